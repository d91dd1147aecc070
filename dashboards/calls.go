package dashboards

import (
	"context"
	"iter"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// Standings hands out the newest snapshot of the garden; nil before the first. It is asked often and must not block.
type Standings interface {
	Standing() *alerts.Standing
}

// A NoteTaker writes down what the keeper did or saw. A note without an ID is given one; the same note twice is one note.
type NoteTaker interface {
	TakeNote(context.Context, sensors.Note) error
}

// A NoteBook reads notes back: those whose At lies in [from, until), oldest first, undone ones left out.
type NoteBook interface {
	Notes(ctx context.Context, from, until time.Time) ([]sensors.Note, error)
}

// Messages reads what was said and which alerts changed: at most n changes before an instant, newest first.
type Messages interface {
	Changes(ctx context.Context, before time.Time, n int) ([]alerts.Change, error)
}

// Curves reads what a probe said. Days come from day summaries, so that ten winters are read without touching a reading.
type Curves interface {
	// Days gives the summaries of the civil days in [from, until), in order; days without a reading are left out.
	Days(ctx context.Context, probe sensors.ProbeID, from, until garden.Date) ([]Day, error)
	// Readings gives valid readings in [from, until), in order of time. An error ends it.
	Readings(ctx context.Context, probe sensors.ProbeID, from, until time.Time) iter.Seq2[Reading, error]
}

// PotDays reads a pot's days through its moves, marks and epochs: those in [from, until), in order.
type PotDays interface {
	PotDays(ctx context.Context, pot string, from, until garden.Date) ([]alerts.DayPoint, error)
}

// A Day is one probe's civil day in whole numbers of its unit.
type Day struct {
	Date     garden.Date
	N        int64 // valid readings
	Min, Max int64
	Sum      int64 // value times seconds over the covered time
	Covered  int64 // seconds really observed
	Above    int64 // of a temperature: value above 5 °C times seconds over the covered time
	AboveOK  bool  // Above is known; where it is not, degree-days are worked out from the extremes by a single sine
}

// Mean is the mean over the covered time; ok is false when no stretch of time was covered.
func (d *Day) Mean() (mean int64, ok bool) {
	if d.Covered <= 0 {
		return 0, false
	}
	if d.Sum < 0 {
		return (d.Sum - d.Covered/2) / d.Covered, true
	}
	return (d.Sum + d.Covered/2) / d.Covered, true
}

// A Reading is one valid value of a probe in its whole-number unit, with its time.
type Reading struct {
	At    time.Time
	Value int64
}

// Sessions keeps who is signed in, across restarts. Only the SHA-256 of a session's secret is ever stored.
type Sessions interface {
	// Session gives when a session ends; the zero time when there is none.
	Session(ctx context.Context, hash [32]byte) (time.Time, error)
	KeepSession(ctx context.Context, hash [32]byte, until time.Time) error
	DropSession(ctx context.Context, hash [32]byte) error
}
