package tape

import (
	"cmp"
	"iter"
	"slices"
	"time"

	"lathwatch/sensors"
)

// Rounds makes rounds of rows: at every whole multiple of every, from each probe's newest row since the instant before. A row
// at exactly an instant belongs to its round. An instant with no row makes no round: what is absent is absent.
func Rounds(rows []Row, every time.Duration) iter.Seq[sensors.Round] {
	if !slices.IsSortedFunc(rows, order) {
		rows = slices.SortedFunc(slices.Values(rows), order)
	}
	return func(yield func(sensors.Round) bool) {
		for i := 0; i < len(rows); {
			at := appointed(rows[i].At, every)
			end := i + 1
			for end < len(rows) && !rows[end].At.After(at) {
				end++
			}
			if !yield(sensors.Round{At: at, Readings: newest(rows[i:end])}) {
				return
			}
			i = end
		}
	}
}

// appointed is the first instant not before t that is a whole multiple of every since 1970.
func appointed(t time.Time, every time.Duration) time.Time {
	down := time.Unix(0, t.UnixNano()-t.UnixNano()%int64(every)).UTC()
	if down.Before(t) {
		return down.Add(every)
	}
	return down
}

// newest gives the last row of each probe among rows in order of time, in order of probe.
func newest(rows []Row) []sensors.Reading {
	all := make([]sensors.Reading, 0, len(rows))
	for _, r := range slices.Backward(rows) {
		i, seen := slices.BinarySearchFunc(all, r.Probe, func(a sensors.Reading, p sensors.ProbeID) int {
			return cmp.Compare(a.Probe, p)
		})
		if !seen {
			all = slices.Insert(all, i, r.Reading())
		}
	}
	return all
}

// Entries is the past a tape tells: its rounds and notes in order, as the walk wants them.
func Entries(rows []Row, every time.Duration, notes []sensors.Note) sensors.Entries {
	notes = slices.SortedFunc(slices.Values(notes), func(a, b sensors.Note) int {
		return sensors.Compare(sensors.Entry{At: a.At, Note: &a}, sensors.Entry{At: b.At, Note: &b})
	})
	return func(yield func(sensors.Entry, error) bool) {
		rest := notes
		until := func(t time.Time) bool {
			for len(rest) > 0 && (t.IsZero() || !rest[0].At.After(t)) {
				n := &rest[0]
				if !yield(sensors.Entry{At: n.At, Note: n}, nil) {
					return false
				}
				rest = rest[1:]
			}
			return true
		}
		for r := range Rounds(rows, every) {
			if !until(r.At) || !yield(sensors.Entry{At: r.At, Round: &r}, nil) {
				return
			}
		}
		until(time.Time{})
	}
}
