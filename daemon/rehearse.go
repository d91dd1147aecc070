package daemon

import (
	"cmp"
	"slices"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// A Rehearsal runs recorded entries through the very Walk the daemon lives in.
type Rehearsal struct {
	Garden  *garden.Garden // used for the whole span; nil: the gardens among the entries
	Entries sensors.Entries
	StateAt []time.Time
	Undone  map[string]bool
	Said    func(alerts.Change) error   // each message, in order; may be nil
	State   func(line []byte) error     // each --state-at line; may be nil
	Changed func([]alerts.Change) error // every change of a round; may be nil
	Rules   []alerts.Rule               // tests only: other rules than the shelf's
	Begin   time.Time                   // when the fixed garden comes into force; zero: the first entry
	After   func(at time.Time, w *Walk) // called after each entry; may be nil
	Done    func()                      // for the caller's own use when it is over
}

// Run walks the entries. It returns the walk as it ended.
func (r Rehearsal) Run() (*Walk, error) {
	w := NewWalk()
	w.Undone(r.Undone)
	asked := slices.SortedFunc(slices.Values(r.StateAt), func(a, b time.Time) int { return a.Compare(b) })
	begun := false
	for e, err := range r.Entries {
		if err != nil {
			return w, err
		}
		if !begun {
			begun = true
			if err := r.begin(w, e.At); err != nil {
				return w, err
			}
		}
		for len(asked) > 0 && asked[0].Before(e.At) {
			if err := r.state(w, asked[0]); err != nil {
				return w, err
			}
			asked = asked[1:]
		}
		if err := r.step(w, e); err != nil {
			return w, err
		}
	}
	for _, at := range asked {
		if err := r.state(w, at); err != nil {
			return w, err
		}
	}
	return w, nil
}

func (r Rehearsal) begin(w *Walk, at time.Time) error {
	if r.Garden == nil {
		return nil
	}
	err := w.Fix(cmp.Or(r.Begin, at), r.Garden)
	if r.Rules != nil {
		w.judge.Rules(r.Rules)
	}
	return err
}

func (r Rehearsal) step(w *Walk, e sensors.Entry) error {
	changes, err := w.Take(e)
	if err != nil {
		return err
	}
	if r.Changed != nil {
		if err := r.Changed(changes); err != nil {
			return err
		}
	}
	for _, c := range changes {
		if c.Text != "" && r.Said != nil {
			if err := r.Said(c); err != nil {
				return err
			}
		}
	}
	if r.After != nil {
		r.After(e.At, w)
	}
	return nil
}

func (r Rehearsal) state(w *Walk, at time.Time) error {
	if r.State == nil {
		return nil
	}
	st := w.Standing()
	if st.Garden == nil {
		return nil
	}
	st.At = at
	for i := range st.Pots {
		if err := r.State(alerts.PotState(st, i)); err != nil {
			return err
		}
	}
	for i := range st.Places {
		if err := r.State(alerts.PlaceState(st, i)); err != nil {
			return err
		}
	}
	return nil
}

// Undone collects the ids that undo notes name.
func Undone(notes []sensors.Note) map[string]bool {
	ids := map[string]bool{}
	for _, n := range notes {
		if n.What == sensors.Undo {
			ids[n.Detail] = true
		}
	}
	return ids
}
