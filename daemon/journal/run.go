package journal

import (
	"context"
	"errors"
	"time"
)

// Run does the housekeeping until the context ends: each night a truncating checkpoint, a backup and a new ballast, each week the
// engine's check; summaries made for another zone are rebuilt at once. Trouble is logged and tried again the next night.
func (j *Journal) Run(ctx context.Context) error {
	if other, err := j.SummedElsewhere(ctx); err == nil && other && !j.o.ReadOnly {
		if err := j.RebuildDays(ctx); err != nil && ctx.Err() == nil {
			j.o.Log.Error("journal: housekeeping", "err", err)
		}
	}
	for night := 1; ; night++ {
		timer := time.NewTimer(untilNight(j.o.Now(), j.o.Zone))
		select {
		case <-ctx.Done():
			timer.Stop()
			return nil
		case <-timer.C:
		}
		if j.o.ReadOnly {
			continue
		}
		if err := j.Night(ctx, night%7 == 0); err != nil && ctx.Err() == nil {
			j.o.Log.Error("journal: housekeeping", "err", err)
		}
	}
}

// nightHour is when housekeeping is done, on the site's clock: after midnight, before anybody looks.
const nightHour = 3

func untilNight(now time.Time, zone *time.Location) time.Duration {
	local := now.In(zone)
	next := time.Date(local.Year(), local.Month(), local.Day(), nightHour, 10, 0, 0, zone)
	if !next.After(now) {
		next = time.Date(local.Year(), local.Month(), local.Day()+1, nightHour, 10, 0, 0, zone)
	}
	return next.Sub(now)
}

// Night is one night's housekeeping.
func (j *Journal) Night(ctx context.Context, check bool) error {
	err := j.Tidy(ctx)
	if check {
		r, e := j.Check(ctx)
		if e == nil && !r.Sound() {
			j.o.Log.Error("journal: the weekly check found damage", "engine", r.Engine, "parts", r.Bad)
		}
		err = errors.Join(err, e)
	}
	_, e := j.Backup(ctx, "", 0)
	return errors.Join(err, e)
}

// Tidy empties the write-ahead log and lays the ballast again when there is room.
func (j *Journal) Tidy(ctx context.Context) error {
	return j.with(ctx, "tidying the journal", func() error {
		j.layBallast()
		if j.o.ReadOnly {
			return nil
		}
		return j.c.script("pragma wal_checkpoint(TRUNCATE)")
	})
}
