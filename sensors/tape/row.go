package tape

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// A Row is one reading with its own time.
type Row struct {
	At    time.Time // UTC
	Probe sensors.ProbeID
	Raw   int64
	Step  units.Step
	Line  int // where it stood in its file, from 1; 0: nowhere
}

// Reading is the row without its time.
func (r Row) Reading() sensors.Reading {
	return sensors.Reading{Probe: r.Probe, Raw: r.Raw, Step: r.Step}
}

// A RowError is a row that cannot be used.
type RowError struct {
	File string
	Line int // counting from 1
	Say  string
}

// Error prints "readings.csv line 17: ...".
func (e *RowError) Error() string { return fmt.Sprintf("%s line %d: %s", e.File, e.Line, e.Say) }

func order(a, b Row) int {
	return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Probe, b.Probe))
}

// once sorts rows, keeps one of rows that say the same twice, and refuses all that contradict each other about one probe at
// one instant, so that no order of the file decides.
func once(file string, rows []Row) (kept []Row, bad []*RowError) {
	slices.SortFunc(rows, func(a, b Row) int { return cmp.Or(order(a, b), cmp.Compare(a.Line, b.Line)) })
	kept = rows[:0]
	for i := 0; i < len(rows); {
		end, same := i+1, true
		for end < len(rows) && order(rows[i], rows[end]) == 0 {
			same = same && rows[end].Raw == rows[i].Raw && rows[end].Step == rows[i].Step
			end++
		}
		if same {
			kept = append(kept, rows[i])
		} else {
			for j := i; j < end; j++ {
				other := rows[i].Line
				if j == i {
					other = rows[i+1].Line
				}
				bad = append(bad, &RowError{file, rows[j].Line, fmt.Sprintf("probe %s says something else for the same instant at line %d: neither is used", rows[j].Probe, other)})
			}
		}
		i = end
	}
	return kept, bad
}

// level gives all rows of a probe the finest step any of them has, so that a series is counted in one step.
func level(rows []Row) {
	finest := map[sensors.ProbeID]units.Step{}
	for _, r := range rows {
		if s, ok := finest[r.Probe]; !ok || s.Unit == r.Step.Unit && r.Step.Den > s.Den {
			finest[r.Probe] = r.Step
		}
	}
	for i, r := range rows {
		if s := finest[r.Probe]; s.Unit == r.Step.Unit {
			rows[i].Raw *= int64(s.Den / r.Step.Den)
			rows[i].Step = s
		}
	}
}
