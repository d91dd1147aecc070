package daemon

import (
	"context"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon/journal"
	"lathwatch/dashboards/ical"
	"lathwatch/dashboards/ical/icalread"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/poll"
)

// A lived story goes through a whole daemon: its journal on a card, its walker, its pages and its calendar. What is asked at a moment
// is asked when all up to it has been walked.
type lived struct {
	*Daemon
	t     *testing.T
	story *story
	now   time.Time
	pages http.Handler
	alone func(at time.Time) (poll.Stamp, bool) // rounds that go through the poller's door; nil: none, they are taken a day at a time
}

func (s *story) live(t *testing.T) *lived {
	t.Helper()
	l := &lived{t: t, story: s, now: s.entries()[0].At}
	d, err := New(t.Context(), Config{GardenPath: "garden.toml", GardenText: s.toml, StateDir: t.TempDir(), Now: func() time.Time { return l.now }})
	if err != nil {
		t.Fatal(err)
	}
	l.Daemon = d
	ended := make(chan struct{})
	go func() { // the walker's questions; ends with the test
		for {
			select {
			case ask := <-d.asks:
				ask()
			case <-ended:
				return
			}
		}
	}()
	t.Cleanup(func() { close(ended); _ = d.Close() })
	if l.pages, err = d.pages(garden.Page{Listen: "127.0.0.1:0"}, "", ""); err != nil {
		t.Fatal(err)
	}
	return l
}

// An asked moment.
type asked struct {
	at string // as a story writes it
	do func(l *lived)
}

// tell lives through the story and asks on the way.
func (l *lived) tell(asks ...asked) {
	l.t.Helper()
	var batch []sensors.Entry
	flush := func() {
		if len(batch) == 0 {
			return
		}
		if err := l.Batch(l.t.Context(), func(take func(sensors.Entry) ([]alerts.Change, error)) error {
			for _, e := range batch {
				l.now = e.At
				if _, err := take(e); err != nil {
					return err
				}
			}
			return nil
		}); err != nil {
			l.t.Fatal(err)
		}
		batch = batch[:0]
	}
	slices.SortStableFunc(asks, func(a, b asked) int { return l.story.moment(l.t, a.at).Compare(l.story.moment(l.t, b.at)) })
	late := l.story.late
	for _, e := range l.story.entries() {
		for len(late) > 0 && late[0].At.Before(e.At) {
			flush()
			l.visit(poll.Visit{Entry: late[0]})
			late = late[1:]
		}
		for len(asks) > 0 && l.story.moment(l.t, asks[0].at).Before(e.At) {
			flush()
			l.now = l.story.moment(l.t, asks[0].at)
			asks[0].do(l)
			asks = asks[1:]
		}
		if l.alone != nil && e.Round != nil {
			if stamp, alone := l.alone(e.At); alone {
				flush()
				l.visit(poll.Visit{Entry: e, Stamp: stamp})
				continue
			}
		}
		if batch = append(batch, e); len(batch) > 300 {
			flush()
		}
	}
	flush()
	for _, a := range asks {
		l.now = l.story.moment(l.t, a.at)
		a.do(l)
	}
}

func (l *lived) visit(v poll.Visit) {
	l.t.Helper()
	l.now = v.Entry.At
	if err := l.do(l.t.Context(), func() { l.Daemon.visit(context.WithoutCancel(l.t.Context()), v) }); err != nil {
		l.t.Fatal(err)
	}
}

// said is every message the journal has.
func (l *lived) said() []alerts.Change {
	l.t.Helper()
	all, err := Said(l.t.Context(), l.Journal(), time.Time{}, l.now.AddDate(1, 0, 0))
	if err != nil {
		l.t.Fatal(err)
	}
	return all
}

// calendar reads the feed at an address a keeper would ask for.
func (l *lived) calendar() []icalread.Event {
	l.t.Helper()
	secret, err := l.addresses("calendar").fresh(l.t.Context(), l.now.Add(time.Hour))
	if err != nil {
		l.t.Fatal(err)
	}
	w := l.get(ical.Path + secret + ".ics")
	es, err := icalread.Events(w.Body.String())
	if w.Code != 200 || err != nil {
		l.t.Fatal(w.Code, err)
	}
	return es
}

// day finds an event by the beginning of its UID and checks its days.
func (l *lived) day(es []icalread.Event, uid, first, last string) {
	l.t.Helper()
	i := slices.IndexFunc(es, func(e icalread.Event) bool { return strings.HasPrefix(e.UID, uid+"@") })
	if i < 0 {
		l.t.Errorf("%s: the calendar has no %s, only %+v", l.now.Format(time.DateOnly), uid, es)
		return
	}
	if e := es[i]; e.First < first || e.Last > last || e.First > e.Last {
		l.t.Errorf("%s: %q is from %s to %s, wanted within %s to %s", l.now.Format(time.DateOnly), e.Summary, e.First, e.Last, first, last)
	}
}

func (l *lived) get(path string) *httptest.ResponseRecorder {
	r := httptest.NewRequest("GET", "http://localhost"+path, nil)
	r.RemoteAddr = "127.0.0.1:5000"
	w := httptest.NewRecorder()
	l.pages.ServeHTTP(w, r)
	return w
}

// The mains fail for three days, told through a daemon with its journal: the board comes back with a clock nobody vouches for, which is
// set at 01:41; two loggers deliver late. The account, the messages and the record are those the tale wants.
func TestLateDataIsFoldedAnewByTheDaemon(t *testing.T) {
	s := loadStory(t, "../testdata/stories/07.txtar")
	l := s.live(t)
	out := told{states: map[string]map[string]any{}}
	back, set, end := s.moment(t, "2027-01-20T01:30"), s.moment(t, "2027-01-20T01:41"), s.moment(t, "2027-01-20T12:00")
	l.alone = func(at time.Time) (poll.Stamp, bool) {
		stamp := poll.Stamp{Wall: at, BootID: "second", Mono: at.Sub(back) + time.Minute, Trusted: !at.Before(set), Why: "nobody vouches for it"}
		if at.Before(set) {
			stamp.Wall = at.AddDate(-57, 0, 0)
		}
		return stamp, !at.Before(back) && at.Before(end)
	}
	var asks []asked
	for _, e := range s.expect {
		f := strings.Fields(e)
		if f[0] != "state" || f[1] == "2027-01-20T01:31" { // nothing is judged yet while the clock is not to be trusted
			continue
		}
		asks = append(asks, asked{f[1], func(l *lived) {
			st := *l.Standing()
			if err := stateLines(&st, l.now, out.state); err != nil {
				t.Fatal(err)
			}
		}})
	}
	l.tell(asks...)
	out.said = l.said()
	for _, e := range s.expect {
		if f := strings.Fields(e); f[0] != "state" || f[1] != "2027-01-20T01:31" {
			if w := s.line(t, out, e, f); w != "" {
				t.Error(e + ": " + w)
			}
		}
	}
	readings := map[string]int{}
	for e, err := range l.Journal().Entries(t.Context(), time.Time{}, time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		if e.Round == nil {
			continue
		}
		if e.At.Year() < 2026 || e.At.After(l.now) {
			t.Errorf("a round of %s is on record", e.At)
		}
		for _, r := range e.Round.Readings {
			if readings[e.At.String()+string(r.Probe)]++; readings[e.At.String()+string(r.Probe)] > 1 {
				t.Errorf("%s at %s is on record twice", r.Probe, e.At)
			}
		}
	}
	// Kept by the two loggers and by nobody else: three days and a bit of rounds each, less D2-t's hole of three hours.
	if n := lateOnRecord(t, l.Journal()); n < 1600 || n > 1710 {
		t.Errorf("%d readings came late", n)
	}
}

func lateOnRecord(t *testing.T, j *journal.Journal) (n int) {
	spans, err := j.LateSince(t.Context(), 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range spans {
		n += s.N
	}
	return n
}
