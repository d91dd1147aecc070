package main

import (
	"fmt"
	"log/slog"
	"os"

	"lathwatch/daemon"
)

// place says where a daemon lives; several commands share it.
type place struct {
	Garden string `type:"path" default:"garden.toml" help:"The garden file."`
	State  string `type:"path" default:"state" help:"The folder of the journal and the command socket." env:"STATE_DIRECTORY"`
}

// runCmd is the daemon.
type runCmd struct {
	place
	Root string `hidden:"" type:"path" help:"Root of sys and dev."`
	Log  string `default:"text" enum:"text,json" help:"How log lines look: text or json."`
}

// Run runs until it is told to stop.
func (c *runCmd) Run(w *world) error {
	g, text, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return misuse{err}
	}
	if err := os.MkdirAll(c.State, 0o750); err != nil {
		return err
	}
	log := slog.New(slog.NewTextHandler(w.err, nil))
	if c.Log == "json" {
		log = slog.New(slog.NewJSONHandler(w.err, nil))
	}
	d, err := daemon.New(w.ctx, daemon.Config{GardenPath: c.Garden, GardenText: text, StateDir: c.State, Root: c.Root, Log: log, Version: version,
		Started: func(page, broker string) {
			if page != "" {
				fmt.Fprintf(w.out, "page %s\n", pageURL(g.Services.Page.CertFile != "", page))
			}
			if broker != "" {
				fmt.Fprintf(w.out, "broker %s\n", broker)
			}
		}})
	if err != nil {
		return err
	}
	return d.Run(w.ctx)
}

func pageURL(tls bool, addr string) string {
	if tls {
		return "https://" + addr
	}
	return "http://" + addr
}
