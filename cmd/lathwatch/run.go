package main

import (
	"fmt"
	"os"
	"time"

	"lathwatch/daemon"
	"lathwatch/daemon/logbook"
	"lathwatch/daemon/vitals"
	"lathwatch/sensors/garden"
)

// place says where a daemon lives; several commands share it.
type place struct {
	Garden string `type:"path" default:"${garden}" help:"The garden file."`
	State  string `type:"path" default:"${state}" help:"The folder of the journal and the command socket." env:"STATE_DIRECTORY"`
}

// runCmd is the daemon.
type runCmd struct {
	place
	Root     string        `type:"path" placeholder:"FOLDER" help:"Look for sys and dev below this folder instead of /: a made-up board, to try things without one."`
	Answer   time.Duration `hidden:"" help:"The longest wait for one probe."`
	Patience time.Duration `hidden:"" help:"How long a bus may hang before this run ends, to be started anew."`
	Log      string        `default:"" enum:",text,json" placeholder:"FORM" help:"How log lines look: text or json. It goes before the garden file's [log]."`
}

// refused is a garden file with which no start can succeed until somebody has changed it. A supervisor must know that from a crash,
// after which it starts us anew: the runtime ends a crash with status 2, which is otherwise ours for wrong use. So a supervisor is
// told by the status that sysexits(3) has for it.
type refused struct{ error }

func (r refused) Unwrap() error { return r.error }

const refusedStatus = 78 // EX_CONFIG

func (r refused) status() int {
	if os.Getenv("NOTIFY_SOCKET") != "" {
		return refusedStatus
	}
	return 2
}

// Run runs until it is told to stop.
func (c *runCmd) Run(w *world) error {
	g, text, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return refused{misuse{err}}
	}
	if err := notAsRoot(c.State); err != nil {
		return err
	}
	if err := os.MkdirAll(c.State, 0o750); err != nil {
		return err
	}
	book := c.book(w, g)
	book.Hide(logbook.NewVeil(vitals.Secrets(text)))
	said, err := daemon.LastWords(c.State)
	if err != nil {
		book.Logger().Warn("last words", "err", err) // a card that can only be read takes none
	}
	d, err := daemon.New(w.ctx, daemon.Config{LastWords: said, Answer: c.Answer, Patience: c.Patience,
		GardenPath: c.Garden, GardenText: text, StateDir: c.State, Root: c.Root, Log: book.Logger(), Lines: book.Lines, Version: buildVersion(),
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

// book opens the log as the flag and the garden file have it; into a service journal it goes without times of our own.
func (c *runCmd) book(w *world, g *garden.Garden) *logbook.Book {
	set := g.Services.Log
	o := logbook.Options{JSON: set.JSON, Level: set.Level, Most: set.Most}
	if c.Log != "" {
		o.JSON = c.Log == "json"
	}
	if f, ok := w.err.(*os.File); ok {
		o.Journal = logbook.IntoJournal(f)
	}
	return logbook.New(w.err, o)
}

func pageURL(tls bool, addr string) string {
	if tls {
		return "https://" + addr
	}
	return "http://" + addr
}
