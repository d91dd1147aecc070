package alerts

import (
	"time"

	"lathwatch/sensors"
)

// Away is the keeper's absence.
type Away struct {
	Since time.Time // zero: never away
	Until time.Time // the end of the day named, or the instant the keeper was back
}

// On reports whether the keeper is away at an instant.
func (a Away) On(now time.Time) bool { return !a.Since.IsZero() && now.Before(a.Until) }

// awayNote folds going away and coming back; it reports whether the note was one of these.
func (f *Fold) awayNote(n *sensors.Note) bool {
	switch n.What {
	case sensors.Away:
		f.st.Away = Away{Since: n.At, Until: f.awayUntil(n)}
	case sensors.Back:
		if f.st.Away.On(n.At) {
			f.st.Away.Until = n.At
		}
	default:
		return false
	}
	return true
}

// awayUntil reads an instant, or a date, which is away to its end. Without either the keeper is away until a note says back.
func (f *Fold) awayUntil(n *sensors.Note) time.Time {
	if t, err := time.Parse(time.RFC3339, n.Detail); err == nil {
		return t
	}
	if t, err := time.ParseInLocation(time.DateOnly, n.Detail, f.st.Cal.Zone); err == nil {
		return f.st.Cal.Start(f.st.Cal.DateOf(t) + 1)
	}
	return n.At.AddDate(1, 0, 0)
}

// Troubles says what is wrong with the daemon itself from now on.
func (f *Fold) Troubles(all []Trouble) { f.st.Troubles = all }
