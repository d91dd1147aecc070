package daemon

import (
	"context"
	"iter"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon/journal"
	"lathwatch/dashboards"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// These are the few calls each page declares, answered from the journal.

type noteBook struct{ j *journal.Journal }

// Notes gives notes of a span, undone ones left out.
func (b noteBook) Notes(ctx context.Context, from, until time.Time) ([]sensors.Note, error) {
	all, err := b.j.Notes(ctx, time.Time{})
	if err != nil {
		return nil, err
	}
	undone := Undone(all)
	var kept []sensors.Note
	for _, n := range all {
		if n.What != sensors.Undo && !undone[n.ID] && !n.At.Before(from) && n.At.Before(until) {
			kept = append(kept, n)
		}
	}
	return kept, nil
}

type messages struct{ j *journal.Journal }

// Changes gives at most n changes before an instant, newest first. A year is looked through at most.
func (m messages) Changes(ctx context.Context, before time.Time, n int) ([]alerts.Change, error) {
	var kept []alerts.Change
	for c, err := range m.j.Changes(ctx, before.AddDate(-1, 0, 0)) {
		if err != nil {
			return nil, err
		}
		if c.At.Before(before) {
			kept = append(kept, c)
		}
	}
	if len(kept) > n {
		kept = kept[len(kept)-n:]
	}
	for i, k := 0, len(kept)-1; i < k; i, k = i+1, k-1 {
		kept[i], kept[k] = kept[k], kept[i]
	}
	return kept, nil
}

type curves struct{ j *journal.Journal }

// Days gives day summaries; no reading is touched.
func (c curves) Days(ctx context.Context, probe sensors.ProbeID, from, until garden.Date) ([]dashboards.Day, error) {
	days, err := c.j.DaySummary(ctx, probe, from, until-1)
	if err != nil {
		return nil, err
	}
	out := make([]dashboards.Day, len(days))
	for i, d := range days {
		covered := int64(d.Covered / time.Second)
		out[i] = dashboards.Day{Date: d.Date, N: d.N, Min: d.Min, Max: d.Max, Sum: d.Mean() * covered, Covered: covered}
	}
	return out, nil
}

// Readings gives valid readings of a span in whole-number units.
func (c curves) Readings(ctx context.Context, probe sensors.ProbeID, from, until time.Time) iter.Seq2[dashboards.Reading, error] {
	return func(yield func(dashboards.Reading, error) bool) {
		for part, err := range c.j.ProbeReadings(ctx, probe, from, until) {
			if err != nil {
				yield(dashboards.Reading{}, err)
				return
			}
			for i, ms := range part.At {
				if part.Suspect != nil && part.Suspect[i] {
					continue
				}
				if !yield(dashboards.Reading{At: time.UnixMilli(ms).UTC(), Value: part.Step.Of(part.Raw[i])}, nil) {
					return
				}
			}
		}
	}
}
