package daemon

import (
	"context"
	"slices"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon/journal"
	"lathwatch/sensors"
)

// Recorded gives what a journal holds of a span (zero: its ends) as a walk wants it: the garden in force at the beginning first.
// It also gives the ids of notes that were taken back.
func Recorded(ctx context.Context, j *journal.Journal, from, until time.Time) (sensors.Entries, map[string]bool, error) {
	notes, err := j.Notes(ctx, time.Time{})
	if err != nil {
		return nil, nil, err
	}
	text, since, err := j.GardenAt(ctx, from)
	if err != nil {
		return nil, nil, err
	}
	early := slices.DeleteFunc(slices.Clone(notes), func(n sensors.Note) bool { return !n.At.Before(from) || !slices.Contains(lasting, n.What) })
	rest := j.Entries(ctx, from, until)
	return func(yield func(sensors.Entry, error) bool) {
		if text != "" && !yield(sensors.Entry{At: since, Garden: &sensors.GardenText{Text: text}}, nil) {
			return
		}
		for i := range early {
			if !yield(sensors.Entry{At: early[i].At, Note: &early[i]}, nil) {
				return
			}
		}
		rest(yield)
	}, Undone(notes), nil
}

// Said lists the messages on record in a span, oldest first.
func Said(ctx context.Context, j *journal.Journal, from, until time.Time) ([]alerts.Change, error) {
	var said []alerts.Change
	for c, err := range j.Changes(ctx, from) {
		if err != nil {
			return nil, err
		}
		if c.Text != "" && !c.At.After(until) {
			said = append(said, c)
		}
	}
	return said, nil
}
