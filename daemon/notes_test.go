package daemon

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/tape"
)

func noted(t testing.TB, at time.Time, subject string, what sensors.What, detail string) sensors.Note {
	t.Helper()
	n, err := tape.Checked(sensors.Note{At: at, Subject: subject, What: what, Detail: detail})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func (l *life) pot(id string) *alerts.PotStanding {
	st := l.walk.Standing()
	i := slices.IndexFunc(st.Pots, func(p alerts.PotStanding) bool { return p.Pot.ID == id })
	if i < 0 {
		l.t.Fatalf("no pot %s", id)
	}
	return &st.Pots[i]
}

// Tarnby, as it really went: the note about the repotting at two o'clock is written the next evening. The season is walked anew with
// it; no second message comes, the children have the history to that hour and none of the night in the air.
func TestALateNoteOfRepottingSaysNothingTwice(t *testing.T) {
	s := tale(t, "04")
	l := s.begin(t)
	made := s.moment(t, "2026-10-04T18:40")
	note := noted(t, s.moment(t, "2026-10-03T14:00"), "H12", sensors.Divided, "H12a H12b")
	told := false
	var before alerts.PotStanding
	for _, e := range s.entries() {
		if e.Note != nil {
			continue // the tale's own, of the next evening
		}
		if !told && !e.At.Before(made) {
			told = true
			before = *l.pot("H12")
			l.learn(sensors.Entry{At: note.At, Note: &note})
		}
		l.take(e)
	}
	if got := kind(l.said(), "probe-out"); len(got) != 1 {
		t.Errorf("%d messages about the probe\n%s", len(got), list(got))
	}
	for _, k := range []string{"water", "root-cold", "too-wet"} {
		if got := kind(l.said(), k); len(got) > 0 {
			t.Errorf("said\n%s", list(got))
		}
	}
	if before.ProbeOut.IsZero() {
		t.Error("before the note the probe was not known to be out")
	}
	a, b, old := l.pot("H12a"), l.pot("H12b"), l.pot("H12")
	if old.Gone.IsZero() || !a.Gone.IsZero() || !b.Gone.IsZero() {
		t.Error("the parent lives on or a child does not")
	}
	if !a.TempOwn || b.TempOwn || !a.NeedsMarks || b.NeedsMarks {
		t.Errorf("the first child keeps the probe: %v %v, and it alone needs marks: %v %v", a.TempOwn, b.TempOwn, a.NeedsMarks, b.NeedsMarks)
	}
	if a.Parent != "H12" || b.Parent != "H12" || len(b.History) < 12 {
		t.Errorf("children of %q and %q with %d days of history", a.Parent, b.Parent, len(b.History))
	}
	// History to the day of the division belongs to both, to the last figure.
	split := l.walk.Standing().Cal.DateOf(note.At)
	days := func(p *alerts.PotStanding) (all []alerts.DayPoint) {
		for _, d := range p.History {
			if d.Day < split {
				all = append(all, d)
			}
		}
		return all
	}
	if diff := gocmp.Diff(days(a), days(b)); diff != "" || len(days(a)) == 0 {
		t.Errorf("histories differ, or there is none (%d days):\n%s", len(days(a)), diff)
	}
}

// What the air did while the probe hung in it is not the plant's: the night of 6 degrees leaves no trace in its account.
func TestAProbeInTheAirAddsNothingToTheAccount(t *testing.T) {
	s := tale(t, "04")
	l := s.begin(t)
	down := noted(t, s.moment(t, "2026-09-25T08:00"), "H12", sensors.LeafDown, "")
	at := s.moment(t, "2026-10-04T06:00")
	var evening alerts.Interval
	for _, e := range s.entries() {
		if e.At.After(at) {
			break
		}
		if len(l.past) > 0 && l.past[len(l.past)-1].At.Before(down.At) && !e.At.Before(down.At) {
			l.take(sensors.Entry{At: down.At, Note: &down})
		}
		if e.At.After(s.moment(t, "2026-10-03T16:30")) && !evening.OK {
			evening = l.pot("H12").ColdCredit
		}
		l.take(e)
	}
	p := l.pot("H12")
	if got := p.TempAt; got.After(s.moment(t, "2026-10-03T14:10")) {
		t.Errorf("a temperature of the pot at %v, when its probe hung in the air", got)
	}
	if p.ColdCredit.Low != evening.Low {
		t.Errorf("credit %.3f, in the evening %.3f", p.ColdCredit.Low, evening.Low)
	}
}

// A division makes no shoots and loses none.
func TestShootsAreConserved(t *testing.T) {
	for _, tt := range []struct {
		notes []string // subject what detail
		want  map[string]int
	}{
		{[]string{"H12 shoots 9", "H12 divided H12a H12b"}, map[string]int{"H12": 9, "H12a": 0, "H12b": 0}},
		{[]string{"H12 shoots 9", "H12 divided H12a H12b", "H12a shoots 5"}, map[string]int{"H12a": 5, "H12b": 4}},
		{[]string{"H12 shoots 9", "H12 divided H12a H12b H12c", "H12b shoots 2", "H12c shoots 3"}, map[string]int{"H12a": 4, "H12b": 2, "H12c": 3}},
		{[]string{"H12 shoots 9", "H12 divided H12a H12b", "H12a shoots 5", "H12b shoots 3"}, map[string]int{"H12a": 5, "H12b": 3}}, // counted is counted
	} {
		s := tale(t, "04")
		l := s.begin(t)
		first := s.entries()[0]
		l.take(first)
		for i, n := range tt.notes {
			f := strings.SplitN(n, " ", 3)
			note := noted(t, first.At.Add(time.Duration(i+1)*time.Second), f[0], sensors.What(f[1]), f[2])
			l.take(sensors.Entry{At: note.At, Note: &note})
		}
		for id, want := range tt.want {
			if got := l.pot(id).Shoots; got != want {
				t.Errorf("%v: %s has %d shoots, want %d", tt.notes, id, got, want)
			}
		}
	}
}

// undone and back-dated notes: a watering noted late explains a rise that was told as a leak; taken back, it does not.
func TestALateNoteAndItsUndoing(t *testing.T) {
	s := tale(t, "03")
	l := s.begin(t)
	water := noted(t, s.moment(t, "2026-12-18T19:00"), "F5", sensors.Watered, "400 mL")
	undo := noted(t, s.moment(t, "2026-12-19T10:00"), "F5", sensors.Undo, water.ID)
	leaks := func() (n int) {
		for _, a := range l.walk.Standing().Alerts {
			if a.Kind == "leak" {
				n++
			}
		}
		return n
	}
	state := func(when string) {
		for _, e := range s.entries() {
			if e.At.After(s.moment(t, when)) {
				return
			}
			if len(l.past) == 0 || e.At.After(l.past[len(l.past)-1].At) {
				l.take(e)
			}
		}
	}
	state("2026-12-19T09:00")
	if leaks() != 1 {
		t.Fatalf("%d leaks stand before the note", leaks())
	}
	l.learn(sensors.Entry{At: water.At, Note: &water})
	state("2026-12-19T09:30")
	if leaks() != 0 {
		t.Errorf("%d leaks stand after a watering was noted", leaks())
	}
	l.learn(sensors.Entry{At: undo.At, Note: &undo})
	state("2026-12-19T10:30")
	if leaks() != 1 {
		t.Errorf("%d leaks stand after the note was taken back", leaks())
	}
	if got := kind(l.said(), "leak"); len(got) != 1 {
		t.Errorf("told %d times\n%s", len(got), list(got))
	}
}

const weighing = `Weights and hands.
-- garden.toml --
[site]
id = "scales"
name = "Scales"
latitude = 52.0
longitude = 10.0
zone = "Europe/Berlin"
[[place]]
id = "table"
name = "the shelter table"
roof = true
[[plant]]
id = "franchetii"
name = "franchetii"
regime = "dry-winter"
earliness = "middle"
[[pot]]
id = "G1"
plant = "franchetii"
place = "table"
volume = "3 L"
material = "plastic"
[[pot]]
id = "G2"
plant = "franchetii"
place = "table"
volume = "3 L"
material = "plastic"
[[probe]]
id = "table-air"
measures = "air-temperature"
place = "table"
[[probe]]
id = "G2-t"
measures = "pot-temperature"
pot = "G2"
[[probe]]
id = "G2-m"
measures = "pot-moisture"
pot = "G2"
unit = "V"
drained-full = "1.20 V"
driest-allowed = "2.40 V"
driest-share = "20 %%"
-- readings --
every 15m
unit G2-m V
2027-01-05..2027-01-20 table-air 3..8 G2-t 3..6 G2-m %s
-- notes.csv --
time,subject,what,detail
%s
-- expect --
%s
`

// A pot without a probe speaks by its weight, between two marked ones; hands that contradict a probe bend its marks.
func TestWeightsAndHands(t *testing.T) {
	marks := "2027-01-05T09:00:00Z,G1,mark,drained-full 2500 g\n2027-01-05T09:01:00Z,G1,mark,driest-allowed 1700 g\n"
	for _, tt := range []struct{ name, volts, notes, expect string }{
		{"half way between two marked weights", "1.8", marks + "2027-01-06T09:00:00Z,G1,weighed,2100 g", "state 2027-01-06T10:10 G1 wetness=60 days_left=10..120"},
		{"three days on fewer days are left", "1.8", marks + "2027-01-06T09:00:00Z,G1,weighed,1720 g", "state 2027-01-09T10:10 G1 wetness=22 days_left=0..20"},
		{"one marked weight says nothing", "1.8", "2027-01-05T09:00:00Z,G1,mark,drained-full 2500 g\n2027-01-06T09:00:00Z,G1,weighed,2100 g", "state 2027-01-06T10:10 G1 wetness=null days_left=null"},
		{"the probe as marked", "1.8", "2027-01-06T09:00:00Z,G2,feel,right", "state 2027-01-06T10:10 G2 wetness=60"},
		{"it feels light: the reading is the dry limit now", "1.8", "2027-01-06T09:00:00Z,G2,feel,light", "state 2027-01-06T10:10 G2 wetness=20"},
		{"it feels heavy: the reading is well up", "2.1", "2027-01-06T09:00:00Z,G2,feel,heavy", "state 2027-01-06T10:10 G2 wetness=74..76"},
		{"it feels right: the reading is above the limit", "2.43", "2027-01-06T09:00:00Z,G2,feel,right", "state 2027-01-06T10:10 G2 wetness=25"},
		{"light, as it reads", "2.39", "2027-01-06T09:00:00Z,G2,feel,light", "state 2027-01-06T10:10 G2 wetness=20..21"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := loadText(t, "scales", fmt.Sprintf(weighing, tt.volts, strings.TrimSpace(tt.notes), tt.expect))
			for _, w := range s.check(t, s.tell(t, nil)) {
				t.Error(w)
			}
		})
	}
}
