package daemon

import (
	"cmp"
	"context"
	"fmt"
	"time"

	"lathwatch/daemon/journal"
)

// The watch over the workers. The supervisor hears a sign of life while every needed one lives. A worker that has given none within
// its limit, or a bus on which a chip has not come back for longer than patience, ends this run: the cause goes into the book of
// starts, and the supervisor starts us anew. For one and the same bus that is done once and not again until it has been well for a
// day: what a new process did not cure, another one will not, and the other buses are worth more than the attempt.

const (
	patienceUsual = 15 * time.Minute // how long a bus may hang
	wellFor       = 24 * time.Hour   // how long a bus must have been well before it may cause another start
	lookEvery     = 20 * time.Second // at most
	walkerLimit   = 10 * time.Minute // the longest piece of work between two beats of the walker
)

// watch is what one run knows of its workers.
type watch struct {
	roster   []worker
	began    time.Time
	patience time.Duration
	excused  map[string]time.Time // buses that have caused a start, and since when they have been well (zero: they are not)
}

// A finding is a worker that is not well.
type finding struct {
	worker, why string
	bus         bool
}

// look finds the workers that are not well, in the roster's order, and those that have earned the end of their excuse.
func (w *watch) look(now time.Time) (ill []finding, pardoned []string) {
	for _, k := range w.roster {
		if k.beat == nil {
			continue
		}
		why := w.illness(k, now)
		if why != "" {
			ill = append(ill, finding{k.name, why, k.hung != nil})
		}
		since, excused := w.excused[k.name]
		switch {
		case !excused:
		case why != "" || k.hung != nil && !k.hung().IsZero():
			w.excused[k.name] = time.Time{}
		case since.IsZero():
			w.excused[k.name] = now
		case now.Sub(since) >= wellFor:
			delete(w.excused, k.name)
			pardoned = append(pardoned, k.name)
		}
	}
	return ill, pardoned
}

func (w *watch) illness(k worker, now time.Time) string {
	if silent := k.silent(w.began, now); silent > k.limit {
		return fmt.Sprintf("%s has given no sign of life for %s", k.name, silent.Round(time.Second))
	}
	if k.hung == nil {
		return ""
	}
	if since := k.hung(); !since.IsZero() && now.Sub(since) > w.patience {
		return fmt.Sprintf("%s: a chip on it has not come back for %s", k.name, now.Sub(since).Round(time.Second))
	}
	return ""
}

// watcher is the goroutine that looks.
func (d *Daemon) watcher(roster []worker) func(context.Context) error {
	return func(ctx context.Context) error {
		w := watch{roster: roster, began: time.Now(), patience: cmp.Or(d.cfg.Patience, patienceUsual), excused: d.excused(ctx, roster)}
		every := lookEvery
		if half := d.boss.every / 2; half > 0 {
			every = min(every, half)
		}
		tick := time.NewTicker(every)
		defer tick.Stop()
		told := map[string]bool{}
		for {
			if err := d.lookOver(ctx, &w, told); err != nil {
				return err
			}
			select {
			case <-ctx.Done():
				return ctx.Err()
			case <-tick.C:
			}
		}
	}
}

// lookOver looks once. An error is the end of this run.
func (d *Daemon) lookOver(ctx context.Context, w *watch, told map[string]bool) error {
	ill, pardoned := w.look(time.Now())
	for _, bus := range pardoned {
		if err := d.journal.SetMark(ctx, excuse+bus, 0); err != nil {
			d.cfg.Log.Warn("forgetting that a bus hung", "bus", bus, "err", err)
		}
	}
	now := map[string]bool{}
	for _, f := range ill {
		_, again := w.excused[f.worker]
		if d.boss.every > 0 && !again && d.giveUp(ctx, f) {
			return fmt.Errorf("%s: to be started anew", f.why)
		}
		now[f.worker] = true
		if !told[f.worker] {
			d.setTrouble("hung "+f.worker, hungWords(f, again))
		}
	}
	for name := range told {
		if !now[name] {
			d.setTrouble("hung "+name, "")
			delete(told, name)
		}
	}
	for name := range now {
		told[name] = true
	}
	if err := d.boss.tell("WATCHDOG=1", d.status()); err != nil {
		d.cfg.Log.Warn("watchdog", "err", err)
	}
	return nil
}

func hungWords(f finding, again bool) string {
	if again {
		return "It hangs again after a new start, so look at its wiring and power: " + f.why + "."
	}
	return "A new start of the program may help: " + f.why + "."
}

// excuse begins the name of the mark that says that a bus has caused a start.
const excuse = "excused/"

// excused are the buses that have caused a start and have not been well for a day since.
func (d *Daemon) excused(ctx context.Context, roster []worker) map[string]time.Time {
	all := map[string]time.Time{}
	for _, k := range roster {
		if k.hung == nil {
			continue
		}
		at, ok, err := d.journal.Mark(ctx, excuse+k.name)
		if err != nil {
			d.cfg.Log.Warn("reading whether a bus hung before", "err", err)
		}
		if ok && at > 0 {
			all[k.name] = time.Time{}
		}
	}
	return all
}

// giveUp writes down why this run ends; false when a bus's excuse could not be written down, without which it would end again and
// again.
func (d *Daemon) giveUp(ctx context.Context, f finding) bool {
	d.cfg.Log.Error("giving up, to be started anew", "worker", f.worker, "why", f.why)
	short, done := context.WithTimeout(ctx, 5*time.Second) // the journal itself may be what hangs
	defer done()
	now := d.cfg.Now()
	if f.bus {
		if err := d.journal.SetMark(short, excuse+f.worker, now.UnixMilli()); err != nil {
			d.cfg.Log.Error("a bus hangs and the journal cannot be written: going on without it", "err", err)
			return false
		}
	}
	if err := d.journal.EndStart(short, now, journal.Hung, f.why); err != nil {
		d.cfg.Log.Error("writing down why this run ends", "err", err)
	}
	if err := d.boss.tell("", "giving up: "+f.why); err != nil {
		d.cfg.Log.Warn("watchdog", "err", err)
	}
	return true
}

// status is the line a supervisor shows.
func (d *Daemon) status() string {
	st := d.Standing()
	if st.At.IsZero() {
		return "no round yet"
	}
	silent := 0
	for i := range st.Probes {
		if p := &st.Probes[i]; p.Silent || p.LastAt.IsZero() {
			silent++
		}
	}
	s := fmt.Sprintf("round of %s, %d probes", st.At.UTC().Format("15:04 UTC"), len(st.Probes))
	if silent > 0 {
		s += fmt.Sprintf(", %d silent", silent)
	}
	return s + ". " + st.Sentence
}
