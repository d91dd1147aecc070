package main

import (
	"context"
	"fmt"
	"time"

	"lathwatch/alerts/push"
	"lathwatch/daemon"
)

// pushTestCmd sends one message that says it is a test by every way out, or by one.
type pushTestCmd struct {
	place
	Way string `arg:"" optional:"" help:"One way out: mqtt, mail or post; all when missing."`
}

// Run tests; status 1 when a way failed.
func (c *pushTestCmd) Run(w *world) error {
	g, _, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return misuse{err}
	}
	tried, failed := 0, false
	for _, raw := range g.Push {
		for _, way := range push.All() {
			if way.Name != raw.Name || c.Way != "" && c.Way != way.Name {
				continue
			}
			r, err := way.Open(raw, push.Env{Site: g.Site.ID, Local: daemon.Nowhere{}})
			if err != nil {
				return misuse{err}
			}
			tried++
			ctx, cancel := context.WithTimeout(w.ctx, time.Minute)
			err = r.Test(ctx)
			cancel()
			if err != nil {
				failed = true
				fmt.Fprintf(w.err, "%s: %v\n", r.Name(), err)
				continue
			}
			fmt.Fprintf(w.out, "%s: the other side has taken the test message\n", r.Name())
		}
	}
	if tried == 0 {
		return misuse{fmt.Errorf("%s has no such way out: %s", c.Garden, push.Reach(g))}
	}
	if failed {
		return errFault
	}
	return nil
}
