package daemon

import (
	"bytes"
	"fmt"
	"slices"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/tape"
)

// loggers makes the deliveries a story's readings speak of, by arrival.
func (s *story) loggers(t testing.TB, gen *storyReadings) {
	t.Helper()
	for n, d := range gen.late {
		rows, bad, err := tape.ReadReadings("late.csv", bytes.NewReader(gen.lateCSV(d)))
		if err != nil || len(bad) > 0 {
			t.Fatal(err, bad)
		}
		l := &sensors.Late{ID: fmt.Sprintf("delivery %d", n+1)}
		for _, r := range slices.Backward(rows) { // loggers do not care for order
			l.Readings = append(l.Readings, sensors.LateReading{At: r.At, Reading: r.Reading()})
		}
		s.late = append(s.late, sensors.Entry{At: d.at.UTC(), Late: l})
	}
	slices.SortStableFunc(s.late, sensors.Compare)
}

// tellLate lives through a story in which readings come after their time: at each delivery the season is walked anew.
func (s *story) tellLate(t testing.TB, rules []alerts.Rule) told {
	t.Helper()
	out := told{states: map[string]map[string]any{}}
	l := &life{t: t, story: s, rules: rules}
	l.restart()
	asked, late := s.stateAt(t), s.late
	slices.SortFunc(asked, time.Time.Compare)
	for _, e := range s.entries() {
		for len(late) > 0 && late[0].At.Before(e.At) {
			l.deliver(late[0].Late)
			late = late[1:]
		}
		for len(asked) > 0 && asked[0].Before(e.At) {
			if err := stateLines(l.walk.Standing(), asked[0], out.state); err != nil {
				t.Fatal(err)
			}
			asked = asked[1:]
		}
		l.take(e)
		out.widths = append(out.widths, width{e.At, widest(l.walk.fold.Live())})
	}
	if len(asked)+len(late) > 0 {
		t.Fatal("the story ends before all is asked and delivered")
	}
	out.said = l.said()
	return out
}

func stateLines(st *alerts.Standing, at time.Time, state func([]byte) error) error {
	st.At = at
	for i := range st.Pots {
		if err := state(alerts.PotState(st, i)); err != nil {
			return err
		}
	}
	for i := range st.Places {
		if err := state(alerts.PlaceState(st, i)); err != nil {
			return err
		}
	}
	return nil
}

// deliver puts late readings into the rounds of their own instants, where nothing is known of their probe, and walks the season anew.
func (l *life) deliver(late *sensors.Late) {
	l.t.Helper()
	at := map[time.Time]int{}
	for i, e := range l.past {
		if e.Round != nil {
			at[e.At] = i
		}
	}
	var fresh []sensors.Entry
	for _, r := range late.Readings {
		i, known := at[r.At]
		if !known {
			at[r.At] = len(l.past) + len(fresh)
			fresh = append(fresh, sensors.Entry{At: r.At, Round: &sensors.Round{At: r.At, Readings: []sensors.Reading{r.Reading}}})
			continue
		}
		e := &l.past
		if i >= len(l.past) {
			e, i = &fresh, i-len(l.past)
		}
		round := *(*e)[i].Round
		if !slices.ContainsFunc(round.Readings, func(o sensors.Reading) bool { return o.Probe == r.Probe }) {
			round.Readings = append(slices.Clone(round.Readings), r.Reading)
			(*e)[i].Round = &round
		}
	}
	l.learn(fresh...)
}
