package alerts

import (
	"strings"
	"time"

	"lathwatch/sensors"
)

// Away is the keeper's absence.
type Away struct {
	Since time.Time // the note, or the beginning of the day it names; zero: never away
	Until time.Time // the end of the day named, or the instant the keeper was back
}

// On reports whether the keeper is away at an instant.
func (a Away) On(now time.Time) bool { return a.begun(now) && now.Before(a.Until) }

// Ahead reports whether the keeper is away or is going to be.
func (a Away) Ahead(now time.Time) bool { return !a.Since.IsZero() && now.Before(a.Until) }

func (a Away) begun(now time.Time) bool { return !a.Since.IsZero() && !now.Before(a.Since) }

// awayNote folds going away and coming back; it reports whether the note was one of these.
func (f *Fold) awayNote(n *sensors.Note) bool {
	switch n.What {
	case sensors.Away:
		f.st.Away = f.awayOf(n)
	case sensors.Back:
		switch {
		case !f.st.Away.begun(n.At):
			f.st.Away = Away{} // not gone after all
		case f.st.Away.On(n.At):
			f.st.Away.Until = n.At
		}
	default:
		return false
	}
	return true
}

// awayOf reads an instant, or a date, which is away to its end, or two dates, first and last. Without any the keeper is away until a
// note says back.
func (f *Fold) awayOf(n *sensors.Note) Away {
	a := Away{Since: n.At, Until: n.At.AddDate(1, 0, 0)}
	if t, err := time.Parse(time.RFC3339, n.Detail); err == nil {
		a.Until = t
		return a
	}
	words := strings.Fields(n.Detail)
	for i, w := range words {
		t, err := time.ParseInLocation(time.DateOnly, w, f.st.Cal.Zone)
		if err != nil {
			continue
		}
		switch d := f.st.Cal.DateOf(t); {
		case i == len(words)-1:
			a.Until = f.st.Cal.Start(d + 1)
		case f.st.Cal.Start(d).After(n.At):
			a.Since = f.st.Cal.Start(d)
		}
	}
	return a
}

// Troubles says what is wrong with the daemon itself from now on.
func (f *Fold) Troubles(all []Trouble) { f.st.Troubles = all }
