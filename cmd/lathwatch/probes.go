package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"time"

	"lathwatch/daemon"
	"lathwatch/sensors/garden"
)

// probesCmd lists what answers on the buses, through the daemon where one runs.
type probesCmd struct {
	place
	Root  string `type:"path" placeholder:"FOLDER" help:"Look for sys and dev below this folder instead of /: a made-up board, to try things without one."`
	Watch bool   `help:"Show values again and again until stopped."`
	JSON  bool   `name:"json" help:"One JSON object a line."`
}

// Run surveys once, or until it is stopped.
func (c *probesCmd) Run(w *world) error {
	for {
		s, err := c.survey(w)
		if err != nil {
			return err
		}
		if err := c.print(w, s); err != nil || !c.Watch {
			return err
		}
		select {
		case <-w.ctx.Done():
			return nil
		case <-time.After(2 * time.Second):
		}
	}
}

func (c *probesCmd) survey(w *world) (daemon.Survey, error) {
	client, err := daemon.Dial(c.State)
	if err == nil {
		return client.Survey(w.ctx)
	}
	if !errors.Is(err, daemon.ErrNobody) {
		return daemon.Survey{}, err
	}
	var g *garden.Garden
	if _, err := os.Stat(c.Garden); err == nil {
		if g, _, err = daemon.ReadGarden(c.Garden); err != nil {
			return daemon.Survey{}, misuse{err}
		}
	}
	return daemon.Look(w.ctx, c.Root, g)
}

func (c *probesCmd) print(w *world, s daemon.Survey) error {
	if c.JSON {
		enc := json.NewEncoder(w.out)
		for _, p := range s.Probes {
			if err := enc.Encode(p); err != nil {
				return err
			}
		}
		for _, f := range s.Unbound {
			if err := enc.Encode(f); err != nil {
				return err
			}
		}
		return nil
	}
	for _, p := range s.Probes {
		value := p.Value
		switch {
		case p.Fault != "":
			value = p.Fault
		case value == "" && p.Source == "":
			value = "no source: by import only"
		case value == "":
			value = "no answer yet"
		case p.Suspect:
			value += " (suspect)"
		}
		fmt.Fprintf(w.out, "%-20s %-18s %-10s %s\n", p.ID, p.Measures, p.Pot+p.Place, value)
	}
	if c.Watch {
		fmt.Fprintln(w.out)
		return nil
	}
	switch {
	case len(s.Unbound) == 0 && len(s.Probes) == 0:
		fmt.Fprintln(w.out, "Nothing answers. Look at the wiring, and whether the board's 1-wire and I2C buses are switched on.")
	case len(s.Unbound) == 0:
		fmt.Fprintln(w.out, "Nothing else answers: all that does is in the garden file.")
	}
	for _, f := range s.Unbound {
		fmt.Fprintf(w.out, "\n# %s: %s. To use it, paste this into the garden file and say which pot or place it is for:\n%s", f.Chip, f.Says, f.Block)
	}
	return nil
}
