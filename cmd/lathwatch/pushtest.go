package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"lathwatch/alerts/push"
	"lathwatch/daemon"
	"lathwatch/sensors/garden"
)

// pushTestCmd sends one message that says it is a test by every way out, or by one.
type pushTestCmd struct {
	place
	Way string `arg:"" optional:"" help:"One way out: mqtt, mail or post; all when missing."`
}

// Run tests, through the daemon where one runs; status 1 when a way failed.
func (c *pushTestCmd) Run(w *world) error {
	g, _, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return misuse{err}
	}
	client, err := daemon.Dial(c.State)
	var tests []daemon.WayTest
	switch {
	case err == nil:
		tests, err = client.PushTest(w.ctx, c.Way)
	case errors.Is(err, daemon.ErrNobody):
		tests, err = c.alone(w.ctx, g)
	}
	if err != nil {
		return err
	}
	if len(tests) == 0 {
		return misuse{fmt.Errorf("%s has no such way out: %s", c.Garden, push.Reach(g))}
	}
	failed := false
	for _, t := range tests {
		if t.Error != "" {
			failed = true
			fmt.Fprintf(w.err, "%s: %s\n", t.Way, t.Error)
			continue
		}
		fmt.Fprintf(w.out, "%s: the other side has taken the test message\n", t.Way)
	}
	if failed {
		return errFault
	}
	return nil
}

// alone tests the ways that lead beyond this board; the broker inside exists only in a running daemon.
func (c *pushTestCmd) alone(ctx context.Context, g *garden.Garden) (tests []daemon.WayTest, err error) {
	for _, raw := range push.Plan(g) {
		way, ok := push.Named(raw.Name)
		if !ok || c.Way != "" && c.Way != way.Name {
			continue
		}
		t := daemon.WayTest{Way: way.Name}
		if raw.Name == "mqtt" && push.WantsBroker(g) {
			t.Error = "the broker inside exists only while the daemon runs: start it first"
			tests = append(tests, t)
			continue
		}
		r, err := way.Open(raw, push.Env{Site: g.Site.ID})
		if err != nil {
			return nil, misuse{err}
		}
		ctx, cancel := context.WithTimeout(ctx, time.Minute)
		if err := r.Test(ctx); err != nil {
			t.Error = err.Error()
		}
		cancel()
		tests = append(tests, t)
	}
	return tests, nil
}
