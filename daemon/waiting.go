package daemon

import (
	"context"
	"slices"

	"lathwatch/sensors"
)

// What the journal would not take waits here, in memory, and is tried again with every round: rounds, rounds of an untrusted clock,
// and batches that came late.

// unkeptMost is how many rounds are kept in memory while the journal cannot be written: a week of five-minute rounds.
const unkeptMost = 2016

// unplacedMost is how many late readings wait at most.
const unplacedMost = 100_000

// newestOf leaves out the oldest where too many wait.
func newestOf[T any](all []T, most int) []T { return slices.Delete(all, 0, max(len(all)-most, 0)) }

// keepWaiting writes what waits in memory. After a failure the oldest round is tried by itself: packing a day of them with every
// round, for a card that refuses them all, would cost more than the rounds.
func (d *Daemon) keepWaiting(ctx context.Context) error {
	if len(d.unkept) > 1 {
		if err := d.journal.KeepAll(ctx, d.unkept[:1]); err != nil {
			return err
		}
		d.unkept = slices.Delete(d.unkept, 0, 1)
	}
	if err := d.journal.KeepAll(ctx, d.unkept); err != nil {
		return err
	}
	d.unkept = slices.Delete(d.unkept, 0, len(d.unkept))
	return nil
}

// holdWaiting writes the rounds of an untrusted clock that wait in memory.
func (d *Daemon) holdWaiting(ctx context.Context) error {
	for len(d.unheld) > 0 {
		if err := d.journal.Hold(ctx, d.unheld[0]); err != nil {
			return err
		}
		d.unheld = slices.Delete(d.unheld, 0, 1)
	}
	return nil
}

// late takes readings that came after their time through a door of their own; the season is walked anew for them, and nothing about
// the past is pushed.
func (d *Daemon) late(ctx context.Context, l *sensors.Late) {
	if l.ID != "" && slices.ContainsFunc(d.unplaced, func(o sensors.Late) bool { return o.ID == l.ID }) {
		return // delivered again while it waits
	}
	d.unplaced = append(d.unplaced, AdmitLate(d.garden, *l))
	for n := 0; ; n = 0 {
		for _, o := range d.unplaced {
			n += len(o.Readings)
		}
		if n <= unplacedMost || len(d.unplaced) == 1 {
			break
		}
		d.unplaced = slices.Delete(d.unplaced, 0, 1)
	}
	d.placeLate(ctx)
}

// placeLate writes the late batches that wait.
func (d *Daemon) placeLate(ctx context.Context) {
	for len(d.unplaced) > 0 {
		res, err := d.journal.AddLate(ctx, d.cfg.Now(), d.unplaced[0])
		d.stale = d.stale || res.Fresh > 0
		if err != nil {
			d.cfg.Log.Error("keeping late readings", "err", err, "waiting", len(d.unplaced))
			return
		}
		d.unplaced = slices.Delete(d.unplaced, 0, 1)
	}
}
