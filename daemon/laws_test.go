package daemon

import (
	"bytes"
	"cmp"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	gocmp "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/tape"
	"lathwatch/sensors/units"
)

// fewChecks keeps a property test short in plain runs.
func fewChecks(t *testing.T, n int) {
	if os.Getenv("LATHWATCH_LONG") != "" {
		return
	}
	f := flag.Lookup("rapid.checks")
	was := f.Value.String()
	if err := f.Value.Set(fmt.Sprint(n)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Value.Set(was) })
}

// tale loads a story by its id.
func tale(t testing.TB, id string) *story { return loadStory(t, "../testdata/stories/"+id+".txtar") }

// retold loads a story with its text changed.
func retold(t testing.TB, id string, edit func(string) string) *story {
	t.Helper()
	text, err := os.ReadFile("../testdata/stories/" + id + ".txtar")
	if err != nil {
		t.Fatal(err)
	}
	return loadText(t, id, edit(string(text)))
}

// loadText loads a story that stands in no file.
func loadText(t testing.TB, id, text string) *story {
	t.Helper()
	path := filepath.Join(t.TempDir(), id+".txtar")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return loadStoryAs(t, path, func(g string) string { return g })
}

// asSent are messages as a person would compare them.
func asSent(said []alerts.Change) []string {
	var all []string
	for _, c := range said {
		all = append(all, c.Key+" "+c.To+" "+strings.Join(c.Pots, ",")+" "+c.Text)
	}
	return all
}

// short are tales that say something and are quickly told.
var short = []string{"01b", "03", "04b", "05", "07d", "08", "09b"}

// Wherever the run is cut by restarts, the same messages go out: none twice, none lost.
func TestRestartsChangeNoMessage(t *testing.T) {
	fewChecks(t, 12)
	rapid.Check(t, func(rt *rapid.T) {
		s := tale(t, rapid.SampledFrom(short).Draw(rt, "tale"))
		first, last := s.rows[0].At, s.rows[len(s.rows)-1].At
		minutes := rapid.SliceOfN(rapid.IntRange(0, int(last.Sub(first).Minutes())), 1, 4).Draw(rt, "minutes")
		slices.Sort(minutes)
		var times []time.Time
		for _, m := range minutes {
			times = append(times, first.Add(time.Duration(m)*time.Minute))
		}
		if diff := gocmp.Diff(asSent(s.restartedAt(t)), asSent(s.restartedAt(t, times...))); diff != "" {
			rt.Fatalf("%s restarted at %v (-undisturbed +restarted):\n%s", s.id, times, diff)
		}
	})
}

// The order of rows and rows that come twice change nothing: not a message, not a sum.
func TestOrderAndRepetitionChangeNothing(t *testing.T) {
	fewChecks(t, 6)
	rapid.Check(t, func(rt *rapid.T) {
		s := tale(t, rapid.SampledFrom(short).Draw(rt, "tale"))
		dice := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "order"), 1))
		var b bytes.Buffer
		if err := tape.WriteReadings(&b, slices.Values(s.rows)); err != nil {
			rt.Fatal(err)
		}
		head, body, _ := strings.Cut(b.String(), "\n")
		rows := strings.Split(strings.TrimSpace(body), "\n")
		for range len(rows) / 10 {
			rows = append(rows, rows[dice.IntN(len(rows))])
		}
		dice.Shuffle(len(rows), func(i, k int) { rows[i], rows[k] = rows[k], rows[i] })
		mixed, bad, err := tape.ReadReadings("readings.csv", strings.NewReader(head+"\n"+strings.Join(rows, "\n")+"\n"))
		if err != nil || len(bad) > 0 {
			rt.Fatal(err, bad)
		}
		other := *s
		other.rows = mixed
		a, c := s.tell(t, nil), other.tell(t, nil)
		if diff := gocmp.Diff(asSent(a.said), asSent(c.said)); diff != "" {
			rt.Fatalf("%s mixed (-in order +mixed):\n%s", s.id, diff)
		}
		if diff := gocmp.Diff(a.states, c.states); diff != "" {
			rt.Fatalf("%s mixed (-in order +mixed):\n%s", s.id, diff)
		}
	})
}

// sums are the figures that add up over a run, at its end.
func (s *story) sums(t testing.TB) map[string]float64 {
	t.Helper()
	w, err := Rehearsal{Garden: s.garden, Entries: Admit(s.garden, tape.Entries(s.rows, s.garden.Site.Every, s.notes))}.Run()
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]float64{}
	st := w.Standing()
	for i := range st.Pots {
		p := &st.Pots[i]
		all[p.Pot.ID+" cold"] = (p.ColdCredit.Low + p.ColdCredit.High) / 2
		all[p.Pot.ID+" forcing"] = (p.Forcing.Low + p.Forcing.High) / 2
	}
	for i := range st.Places {
		d := st.Places[i].DegreeDays
		all[st.Places[i].Place.ID+" degree-days"] = (d.Low + d.High) / 2
	}
	return all
}

// verdicts are the messages by day: kind, pots and the day they were sent.
func (s *story) verdicts(t testing.TB) []string {
	t.Helper()
	var all []string
	for _, c := range s.tell(t, nil).said {
		if c.Kind != "digest" {
			all = append(all, c.At.In(s.garden.Site.Zone).Format(time.DateOnly)+" "+c.Kind+" "+strings.Join(c.Pots, ","))
		}
	}
	slices.Sort(all)
	return all
}

var everyLine = regexp.MustCompile(`(?m)^every \S+\n`)

// Half and double the sampling rate change no verdict and move sums by less than 2 %.
func TestSamplingRateChangesNoVerdict(t *testing.T) {
	for _, id := range []string{"01", "01b", "02", "03", "04b", "05", "09b"} {
		t.Run(id, func(t *testing.T) {
			s := tale(t, id)
			want, sums := s.verdicts(t), s.sums(t)
			for _, every := range []string{"5m", "20m"} {
				other := retold(t, id, func(text string) string {
					return strings.Replace(everyLine.ReplaceAllString(text, ""), "-- readings --\n", "-- readings --\nevery "+every+"\n", 1)
				})
				if len(other.rows) == len(s.rows) {
					continue // it is told at this rate
				}
				if diff := gocmp.Diff(want, other.verdicts(t)); diff != "" {
					t.Errorf("every %s (-as told +else):\n%s", every, diff)
				}
				got := other.sums(t)
				for k, v := range sums {
					if d := got[k] - v; d > 0.02*max(v, 1) || -d > 0.02*max(v, 1) {
						t.Errorf("every %s: %s is %.3f, as told %.3f", every, k, got[k], v)
					}
				}
			}
		})
	}
}

// calm is a garden in which nothing of water, frost or wet is to be said, in rest and in growth with open shoots.
const calm = `Calm.
-- garden.toml --
[site]
id = "calm"
name = "Calm"
latitude = 52.0
longitude = 10.0
zone = "Europe/Berlin"
[[place]]
id = "table"
name = "the shelter table"
roof = true
[[place]]
id = "wall"
name = "the shaded wall"
shaded = true
[[plant]]
id = "franchetii"
name = "franchetii"
regime = "dry-winter"
earliness = "middle"
[[plant]]
id = "reginae"
name = "reginae"
regime = "wet-winter"
earliness = "early"
[[pot]]
id = "D1"
plant = "franchetii"
place = "table"
volume = "3 L"
material = "plastic"
[[pot]]
id = "D2"
plant = "franchetii"
place = "table"
volume = "3 L"
material = "plastic"
[[pot]]
id = "W1"
plant = "reginae"
place = "wall"
volume = "3 L"
material = "plastic"
[[probe]]
id = "table-air"
measures = "air-temperature"
place = "table"
[[probe]]
id = "wall-air"
measures = "air-temperature"
place = "wall"
[[probe]]
id = "wall-h"
measures = "air-humidity"
place = "wall"
[[probe]]
id = "D1-t"
measures = "pot-temperature"
pot = "D1"
[[probe]]
id = "D1-m"
measures = "pot-moisture"
pot = "D1"
unit = "%"
[[probe]]
id = "D2-t"
measures = "pot-temperature"
pot = "D2"
[[probe]]
id = "D2-m"
measures = "pot-moisture"
pot = "D2"
unit = "%"
[[probe]]
id = "W1-t"
measures = "pot-temperature"
pot = "W1"
[[probe]]
id = "W1-m"
measures = "pot-moisture"
pot = "W1"
unit = "%"
-- readings --
every 15m
SPAN
-- notes.csv --
time,subject,what,detail
NOTES
-- expect --
never water
`

var seasons = map[string]struct{ span, notes string }{
	"rest": {"2027-01-05..2027-01-24 table-air 3..8 wall-air 2..8 wall-h 80 D1-t 3.5..6 D2-t 3.4..6.1 W1-t 3..6 D1-m 41..42 D2-m 38..39 W1-m 88..89", ""},
	"growth": {"2027-05-05..2027-05-24 table-air 11..19 wall-air 10..19 wall-h 70 D1-t 12..16 D2-t 12.1..16.2 W1-t 12..16 D1-m 78..79 D2-m 80..81 W1-m 84..85",
		"2027-05-05T00:00:00Z,D1,open,\n2027-05-05T00:00:00Z,D2,bud,\n2027-05-05T00:00:00Z,W1,open,"},
}

// ofWater are the kinds that one failed probe must never cause.
var ofWater = []string{"water", "water-light", "sitter-water", "too-wet", "leak", "drain-check", "frost-tonight"}

// Any one probe that is stuck, gone, at 85, -127, 0 or +60 for any span never causes a message of water, frost or wet by itself.
func TestOneFailedProbeCausesNoAlarm(t *testing.T) {
	fewChecks(t, 60)
	var tales []*story
	for _, season := range []string{"growth", "rest"} {
		text := strings.NewReplacer("SPAN", seasons[season].span, "NOTES", seasons[season].notes).Replace(calm)
		s := loadText(t, season, text)
		for _, k := range ofWater {
			if got := kind(s.tell(t, nil).said, k); len(got) > 0 {
				t.Fatalf("%s is not calm:\n%s", season, list(got))
			}
		}
		tales = append(tales, s)
	}
	rapid.Check(t, func(rt *rapid.T) {
		s := rapid.SampledFrom(tales).Draw(rt, "season")
		probe := rapid.SampledFrom(s.garden.Probes).Draw(rt, "probe").ID
		how := rapid.SampledFrom([]string{"stuck", "gone", "85", "-127", "0", "60"}).Draw(rt, "how")
		from := rapid.IntRange(30, 17*24).Draw(rt, "from hour")
		hours := rapid.IntRange(1, 18*24).Draw(rt, "hours")
		broken := *s
		broken.rows = spoil(s, probe, how, from, from+hours)
		for _, k := range ofWater {
			if got := kind(broken.tell(t, nil).said, k); len(got) > 0 {
				rt.Fatalf("%s %s from hour %d for %d hours:\n%s", probe, how, from, hours, list(got))
			}
		}
	})
}

// spoil makes a probe fail between two hours after the tale's beginning.
func spoil(s *story, probe sensors.ProbeID, how string, from, until int) []tape.Row {
	var rows []tape.Row
	var held int64
	for _, r := range s.rows {
		if h := r.At.Sub(s.rows[0].At).Hours(); r.Probe == probe && h >= float64(from) && h < float64(until) {
			switch how {
			case "gone":
				continue
			case "stuck":
				r.Raw = held
			default:
				var v int64
				fmt.Sscan(how, &v)
				per := int64(1000)
				if r.Step.Unit == units.Moisture || r.Step.Unit == units.Humidity {
					per = 10
				}
				r.Raw = v * per * int64(r.Step.Den) / int64(r.Step.Num)
			}
		} else if r.Probe == probe {
			held = r.Raw
		}
		rows = append(rows, r)
	}
	return rows
}

// Whatever the weather, the moisture and the fault: a wet-winter plant in rest is never told to be too wet, to leak or to be drained.
func TestWetWinterPlantsInRestAreNeverTooWet(t *testing.T) {
	fewChecks(t, 25)
	base := strings.NewReplacer("SPAN", seasons["rest"].span, "NOTES", "", "place = \"table\"\nvolume", "place = \"wall\"\nvolume").Replace(calm)
	s := loadText(t, "rest", base)
	lived := func(weather uint64, level, swing, mean float64, roof bool) *story {
		dice := rand.New(rand.NewPCG(weather, 2))
		g := *s.garden
		g.Places = slices.Clone(g.Places)
		g.Places[1].Roof = roof
		run := *s
		run.garden, run.rows = &g, nil
		m, temp := level, mean
		for _, r := range s.rows {
			if strings.HasPrefix(string(r.Probe), "D") || strings.HasPrefix(string(r.Probe), "W1") { // the dry-winter twins live as the wet one does
				if r.Step.Unit == units.Moisture {
					m = min(max(m+dice.NormFloat64()*swing/20+(level-m)/50, 0), 120)
					r.Raw = int64(m*10) * int64(r.Step.Den) / int64(r.Step.Num)
				} else {
					temp += dice.NormFloat64()*0.2 + (mean-temp)/40
					r.Raw = int64(temp*1000) * int64(r.Step.Den) / int64(r.Step.Num)
				}
			}
			run.rows = append(run.rows, r)
		}
		return &run
	}
	wetTypes := func(run *story) (of []alerts.Change) {
		for _, c := range run.tell(t, nil).said {
			if slices.Contains([]string{"too-wet", "leak", "drain-check"}, c.Kind) {
				of = append(of, c)
			}
		}
		return of
	}
	// The property proves something: in a mild wet winter the dry-winter twins are told, the wet-winter one is not.
	twins := wetTypes(lived(1, 95, 2, 6, false))
	if len(twins) == 0 {
		t.Error("not even the dry-winter twins were ever too wet: the property proves nothing")
	}
	rapid.Check(t, func(rt *rapid.T) {
		level := rapid.Float64Range(0, 110).Draw(rt, "level")
		mean := rapid.Float64Range(-6, 12).Draw(rt, "air")
		run := lived(rapid.Uint64().Draw(rt, "weather"), level, rapid.Float64Range(0, 60).Draw(rt, "swing"), mean, rapid.Bool().Draw(rt, "roof"))
		how := rapid.SampledFrom([]string{"sound", "stuck", "gone", "85", "0", "60"}).Draw(rt, "fault")
		if how != "sound" {
			run.rows = spoil(run, rapid.SampledFrom([]sensors.ProbeID{"W1-m", "W1-t", "wall-air"}).Draw(rt, "probe"), how, 24, 300)
		}
		for _, c := range append(wetTypes(run), twins...) {
			if slices.Contains(c.Pots, "W1") {
				rt.Fatalf("level %.0f, air %.0f, %s:\n%s", level, mean, how, list([]alerts.Change{c}))
			}
		}
	})
}

// Changing one plant's regime, stage or place changes messages about that plant alone.
func TestOnePlantsNoteChangesItsMessagesAlone(t *testing.T) {
	s := tale(t, "09")
	others := func(said []alerts.Change, pot string) (all []string) {
		for _, c := range said {
			pots := slices.DeleteFunc(slices.Clone(c.Pots), func(p string) bool { return p == pot })
			if len(c.Pots) > 0 && len(pots) > 0 {
				all = append(all, c.At.Format(time.RFC3339)+" "+c.Kind+" "+strings.Join(pots, ","))
			}
		}
		return all
	}
	for _, n := range []sensors.Note{
		{Subject: "W2", What: sensors.Regime, Detail: "dry-winter"},
		{Subject: "E2", What: sensors.Regime, Detail: "dry-winter"},
		{Subject: "W3", What: sensors.Nose}, {Subject: "E3", What: sensors.Flower},
		{Subject: "W4", What: sensors.Moved, Detail: "table"}, {Subject: "E4", What: sensors.Lost, Detail: "rot"},
	} {
		n.At = time.Date(2027, 1, 20, 9, 0, 0, 0, time.UTC)
		n.ID = tape.NoteID(n)
		changed := *s
		changed.notes = append(slices.Clone(s.notes), n)
		slices.SortStableFunc(changed.notes, func(a, b sensors.Note) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID)) })
		if diff := gocmp.Diff(others(s.tell(t, nil).said, n.Subject), others(changed.tell(t, nil).said, n.Subject)); diff != "" {
			t.Errorf("%s %s %s (-before +after):\n%s", n.Subject, n.What, n.Detail, diff)
		}
	}
}

// Both clock changes: a day of 23 or 25 hours is one day of the account, the messages are those of a zone without summer time within
// its hour, and none falls into quiet hours.
func TestClockChanges(t *testing.T) {
	for _, tt := range []struct{ from, until string }{{"2026-10-20", "2026-10-30"}, {"2027-03-23", "2027-04-02"}} {
		for _, zone := range []string{"Europe/Berlin", "Etc/GMT-1"} {
			text := strings.NewReplacer("SPAN", tt.from+".."+tt.until+" table-air 3 wall-air 3 D1-t 3 D1-m 40", "NOTES", tt.from+"T04:00:00Z,D1,leaf-down,",
				"Europe/Berlin", zone).Replace(calm)
			s := loadText(t, "clock", text)
			if got := s.sums(t)["D1 cold"]; got < 10.98 || got > 11 {
				t.Errorf("%s to %s in %s: eleven days at 3 °C count %.3f", tt.from, tt.until, zone, got)
			}
		}
	}
	s := tale(t, "09")
	plain := loadStoryAs(t, "../testdata/stories/09.txtar", func(g string) string { return oneZone.ReplaceAllString(g, `zone = "Etc/GMT-1"`) })
	same := *plain
	same.rows = s.rows // the same instants
	want, got := same.tell(t, nil).said, s.tell(t, nil).said
	if len(want) != len(got) {
		t.Fatalf("%d messages, without summer time %d", len(got), len(want))
	}
	for i := range got {
		if d := got[i].At.Sub(want[i].At); got[i].Kind != want[i].Kind || !slices.Equal(got[i].Pots, want[i].Pots) || d < -time.Hour || d > time.Hour {
			t.Errorf("got %swithout summer time %s", list(got[i:i+1]), list(want[i:i+1]))
		}
		if c := alerts.ClockOf(got[i].At, s.garden.Site.Zone); c < alerts.QuietUntil || c >= alerts.QuietFrom {
			t.Errorf("in quiet hours: %s", list(got[i:i+1]))
		}
	}
}
