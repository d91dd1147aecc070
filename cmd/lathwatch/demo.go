package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon"
	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/model"
	"lathwatch/sensors/poll"
)

// demoCmd is an invented garden with simulated probes: a whole rest season in half a minute, then on live.
type demoCmd struct {
	Once bool   `help:"End after the season with one summary line."`
	Seed uint64 `default:"7" help:"Another weather."`
}

// The demo's season, in its own calendar: it begins when pots go under the table and ends when all have risen.
var (
	demoFrom  = time.Date(2026, 10, 12, 10, 0, 0, 0, time.UTC)
	demoUntil = time.Date(2027, 5, 16, 10, 0, 0, 0, time.UTC)
)

// demo is one run of it.
type demo struct {
	cmd     *demoCmd
	w       *world
	garden  *garden.Garden
	model   *model.Model
	keeper  *model.Keeper
	door    *drivers.Door
	now     atomic.Int64 // demo time, seconds; while the season is walked
	offset  atomic.Int64 // demo time less real time, seconds; afterwards
	begun   chan struct{}
	started chan struct{}
	bar     *progress
	tally
}

type tally struct{ rounds, readings, faults, messages, quiet int }

// Run shows where to look, walks the season, and goes on live unless told to end.
func (c *demoCmd) Run(w *world) error {
	dir, err := os.MkdirTemp("", "lathwatch-demo-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	text := model.Demo + "\n[broker]\nlisten = \"127.0.0.1:0\"\n\n[page]\nlisten = \"127.0.0.1:0\"\n"
	g, err := daemon.ParseGarden("the demo's garden", []byte(text))
	if err != nil {
		return err
	}
	m := model.New(g, c.Seed, demoFrom)
	x := &demo{cmd: c, w: w, garden: g, model: m, keeper: m.Keeper(), door: drivers.NewDoor(g.Probes), begun: make(chan struct{}), started: make(chan struct{})}
	x.now.Store(demoFrom.Unix())
	clock := &poll.Clock{Trust: true, Wall: x.clock}
	d, err := daemon.New(w.ctx, daemon.Config{GardenPath: "the demo's garden", GardenText: text, StateDir: filepath.Clean(dir), Now: x.clock, Clock: clock,
		Log: slog.New(slog.NewTextHandler(w.err, &slog.HandlerOptions{Level: slog.LevelError})), Version: buildVersion(), Begin: x.begun, Started: x.where,
		Simulated: func(t time.Time) sensors.Round { return x.model.Step(x.clock().Truncate(time.Minute)) }})
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(w.ctx)
	defer stop()
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx) }() // the daemon; ends with ctx
	select {
	case <-x.started:
	case err := <-ended:
		return err
	}
	err = x.season(ctx, d)
	if err == nil && !c.Once {
		fmt.Fprintf(w.out, "The season is over; going on live with a round every five minutes. Stop with Ctrl-C.\n")
		fmt.Fprintf(w.out, "Meanwhile other commands can ask this garden: lathwatch review --state %s\n", dir)
		<-ctx.Done()
	}
	stop()
	return errors.Join(ignoreCancel(err), <-ended)
}

func ignoreCancel(err error) error {
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}

// clock is the demo's own time: that of the season while it is walked, then running on from its end.
func (x *demo) clock() time.Time {
	if now := x.now.Load(); now != 0 {
		return time.Unix(now, 0).UTC()
	}
	return time.Now().UTC().Add(time.Duration(x.offset.Load()) * time.Second)
}

// where says first where to look.
func (x *demo) where(page, broker string) {
	_, port, _ := net.SplitHostPort(broker)
	fmt.Fprintf(x.w.out, "page      http://%s\nmessages  mosquitto_sub -h 127.0.0.1 -p %s -t 'lathwatch/%s/message' -v\n\n", page, port, x.garden.Site.ID)
	close(x.started)
}

// season walks the rest season a day at a time.
func (x *demo) season(ctx context.Context, d *daemon.Daemon) error {
	x.bar = newProgress(x.w.err, "a winter at "+x.garden.Site.Name, demoFrom, demoUntil)
	t := demoFrom
	for t.Before(demoUntil) {
		if err := ctx.Err(); err != nil {
			return err
		}
		end := t.Add(24 * time.Hour)
		if err := d.Batch(ctx, func(take takeFunc) error { return x.day(t, end, take) }); err != nil {
			return err
		}
		t = end
		x.bar.at(t)
	}
	x.bar.done()
	x.offset.Store(demoUntil.Unix() - time.Now().Unix())
	x.now.Store(0)
	close(x.begun)
	if x.cmd.Once {
		fmt.Fprintf(x.w.out, "rounds=%d readings=%d faults=%d messages=%d quiet-hours=%d\n", x.rounds, x.readings, x.faults, x.messages, x.quiet)
	}
	return nil
}

type takeFunc = func(sensors.Entry) ([]alerts.Change, error)

func (x *demo) day(from, end time.Time, take takeFunc) error {
	for t := from; t.Before(end); t = t.Add(x.garden.Site.Every) {
		x.now.Store(t.Unix())
		for _, n := range x.keeper.Notes(t) {
			if _, err := take(sensors.Entry{At: n.At, Note: &n}); err != nil {
				return err
			}
		}
		r := x.door.Admit(x.model.Step(t))
		if len(r.Readings)+len(r.Faults) == 0 {
			continue // no power: nobody walked
		}
		x.rounds++
		x.readings += len(r.Readings)
		x.faults += len(r.Faults)
		changes, err := take(sensors.Entry{At: r.At, Round: &r})
		if err != nil {
			return err
		}
		for _, c := range changes {
			x.message(c)
		}
	}
	return nil
}

// message prints a message as it comes and lets the demo's keeper hear it.
func (x *demo) message(c alerts.Change) {
	if c.Text == "" || c.To == "digest" {
		return
	}
	x.messages++
	if at := alerts.ClockOf(c.At, x.garden.Site.Zone); at >= alerts.QuietFrom || at < alerts.QuietUntil {
		x.quiet++
	}
	x.keeper.Hear(c.At, c.Kind, c.Pots)
	x.bar.clear()
	fmt.Fprintf(x.w.out, "%s  %s\n", c.At.In(x.garden.Site.Zone).Format("Mon 2 Jan 2006 15:04"), c.Text)
}
