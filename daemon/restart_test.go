package daemon

import (
	"slices"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/tape"
)

// entries gives all the story's past, through the door every live round passes.
func (s *story) entries() []sensors.Entry {
	var all []sensors.Entry
	for e := range Admit(s.garden, tape.Entries(s.rows, s.garden.Site.Every, s.notes)) {
		all = append(all, e)
	}
	return all
}

// A life is a daemon that is started again and again: each start walks all entries so far through a new Walk, squares it with
// the record of changes, and goes on; what squaring found is kept with the next round, as the journal keeps it.
type life struct {
	t       testing.TB
	story   *story
	past    []sensors.Entry
	record  []alerts.Change
	pending []alerts.Change
	walk    *Walk
	rules   []alerts.Rule // other than the shelf's; nil: the shelf's
}

func (s *story) begin(t testing.TB) *life {
	l := &life{t: t, story: s}
	l.restart()
	return l
}

func (l *life) restart() {
	l.t.Helper()
	w := NewWalk()
	var notes []sensors.Note
	for _, e := range l.past {
		if e.Note != nil {
			notes = append(notes, *e.Note)
		}
	}
	w.Undone(Undone(notes))
	from := time.Time{}
	if len(l.past) > 0 {
		from = l.past[0].At
	}
	l.fix(w, from)
	for _, e := range l.past {
		if _, err := w.Take(e); err != nil {
			l.t.Fatal(err)
		}
	}
	l.walk, l.pending = w, w.Adopt(slices.Clone(l.record))
}

func (l *life) fix(w *Walk, from time.Time) {
	l.t.Helper()
	if err := w.Fix(from, l.story.garden); err != nil {
		l.t.Fatal(err)
	}
	if l.rules != nil {
		w.judge.Rules(l.rules)
	}
}

func (l *life) take(e sensors.Entry) {
	l.t.Helper()
	if len(l.past) == 0 {
		l.fix(l.walk, e.At)
	}
	changes, err := l.walk.Take(e)
	if err != nil {
		l.t.Fatal(err)
	}
	l.past = append(l.past, e)
	if e.Round != nil {
		l.record = append(append(l.record, l.pending...), changes...)
		l.pending = nil
	}
}

// learn brings in entries that belong in the past: a late note, late readings. The season is walked anew.
func (l *life) learn(late ...sensors.Entry) {
	l.t.Helper()
	l.past = append(l.past, late...)
	slices.SortStableFunc(l.past, sensors.Compare)
	l.restart()
}

// said is every message on record that is sent alone.
func (l *life) said() (all []alerts.Change) {
	for _, c := range l.record {
		if c.Text != "" {
			all = append(all, c)
		}
	}
	return all
}

// restartedAt lives through the story with a restart before the first entry after each of the times.
func (s *story) restartedAt(t testing.TB, times ...time.Time) []alerts.Change {
	t.Helper()
	l := s.begin(t)
	for _, e := range s.entries() {
		for len(times) > 0 && !times[0].After(e.At) {
			l.restart()
			times = times[1:]
		}
		l.take(e)
	}
	return l.said()
}

// Hallowdene, restarted ten times in an hour: the hour in which the message about the gap falls due.
func TestTenRestartsInAnHourSayItOnce(t *testing.T) {
	s := loadStory(t, "../testdata/stories/07.txtar")
	for _, begin := range []string{"2027-01-20T01:31", "2027-01-20T06:30", "2027-01-20T07:01"} {
		var times []time.Time
		for i := range 10 {
			times = append(times, s.moment(t, begin).Add(time.Duration(i)*6*time.Minute))
		}
		said := s.restartedAt(t, times...)
		if got := kind(said, "gap"); len(got) != 1 {
			t.Errorf("restarted from %s on: %d messages about the gap\n%s", begin, len(got), list(got))
		}
		if len(said) != len(s.restartedAt(t)) {
			t.Errorf("restarted from %s on: %d messages, undisturbed %d", begin, len(said), len(s.restartedAt(t)))
		}
	}
}
