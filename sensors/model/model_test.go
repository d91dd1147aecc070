package model_test

import (
	"fmt"
	"math"
	"os"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/model"
	"lathwatch/sensors/units"
)

var start = time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC)

// bench is a small garden: one dry-rest and one wet-winter pot, thermometers and moisture probes, two places, a gauge.
func bench() *garden.Garden {
	g := &garden.Garden{Site: garden.Site{ID: "t", Latitude: 55.4, Longitude: 9, Zone: time.UTC},
		Places: []garden.Place{{ID: "table", Roof: true}, {ID: "wall", Shaded: true}},
		Plants: []garden.Plant{{ID: "a", Regime: "dry-winter", Earliness: garden.Early}, {ID: "b", Regime: "wet-winter", Earliness: garden.LateRiser}},
		Pots:   []garden.Pot{{ID: "A", Plant: "a", Place: "wall", Litres: 3000}, {ID: "B", Plant: "b", Place: "wall", Litres: 3000}}}
	for _, p := range g.Pots {
		g.Probes = append(g.Probes, garden.Probe{ID: sensors.ProbeID(p.ID + "-t"), Measures: garden.PotTemperature, Pot: p.ID},
			garden.Probe{ID: sensors.ProbeID(p.ID + "-m"), Measures: garden.PotMoisture, Pot: p.ID, Unit: units.Voltage})
	}
	for _, p := range g.Places {
		g.Probes = append(g.Probes, garden.Probe{ID: sensors.ProbeID(p.ID + "-air"), Measures: garden.AirTemperature, Place: p.ID})
	}
	g.Probes = append(g.Probes, garden.Probe{ID: "rain", Measures: garden.Rain, Place: "wall"})
	return g
}

// season runs a garden with its keeper and hands every round to see.
func season(m *model.Model, days int, see func(sensors.Round, []sensors.Note)) {
	k := m.Keeper()
	for at := start; at.Before(start.AddDate(0, 0, days)); at = at.Add(5 * time.Minute) {
		notes := k.Notes(at)
		see(m.Step(at), notes)
	}
}

func TestSameSeedSameRoundsOtherSeedOthers(t *testing.T) {
	tell := func(seed uint64) string {
		h := ""
		season(model.New(bench(), seed, start), 20, func(r sensors.Round, n []sensors.Note) {
			if r.At.Minute() == 0 {
				h += fmt.Sprint(r, n)
			}
		})
		return h
	}
	first, again, other := tell(3), tell(3), tell(4)
	if first != again {
		t.Error("the same seed told two stories")
	}
	if first == other {
		t.Error("two seeds told one story")
	}
}

// What is true does not depend on how often it is asked for.
func TestAskingMoreOftenChangesNothing(t *testing.T) {
	often, seldom := model.New(bench(), 5, start), model.New(bench(), 5, start)
	end := start.AddDate(0, 4, 15)
	for at := start; !at.After(end); at = at.Add(time.Hour) {
		often.Step(at)
	}
	a, _ := often.Truth("A")
	seldom.Step(end)
	b, _ := seldom.Truth("A")
	if d := cmp.Diff(a, b); d != "" {
		t.Error(d)
	}
}

func TestAWinterHasEverythingInIt(t *testing.T) {
	seeds := uint64(2)
	if os.Getenv("LATHWATCH_LONG") == "1" {
		seeds = 20
	}
	for seed := uint64(1); seed <= seeds; seed++ {
		m := model.New(bench(), seed, start)
		faults := map[string]int{}
		said := map[sensors.What]int{}
		low := map[time.Month]float64{}
		stuck, dark, frozen, warm := 0, 0, 0.0, 0
		var last sensors.Reading
		season(m, 285, func(r sensors.Round, notes []sensors.Note) {
			for _, n := range notes {
				said[n.What]++
			}
			for _, f := range r.Faults {
				faults[f.Kind.String()]++
			}
			if len(r.Readings)+len(r.Faults) == 0 {
				dark++
				return
			}
			for _, x := range r.Readings {
				if x.Probe == "A-t" {
					if x == last {
						stuck++
					}
					last = x
				}
			}
			a, _ := m.Truth("A")
			frozen = max(frozen, a.Frozen)
			low[r.At.Month()] = min(low[r.At.Month()], m.Air("wall"))
			if r.At.Month() == time.February && m.Air("table") > 9 {
				warm++
			}
		})
		if faults["silent"] < 300 || faults["implausible"] < 3 || faults["garbled"] < 5 {
			t.Errorf("seed %d: faults %v", seed, faults)
		}
		if dark < 100 || dark > 130 {
			t.Errorf("seed %d: without power for %d rounds", seed, dark)
		}
		if frozen < 1 || low[time.January] > -4 || low[time.January] < -22 || warm < 100 {
			t.Errorf("seed %d: ice %.2f, January down to %.1f °C, %d warm rounds in February", seed, frozen, low[time.January], warm)
		}
		if said[sensors.LeafDown] != 2 || said[sensors.Nose] < 1 || said[sensors.Moved] != 2 || said[sensors.Flower] < 1 {
			t.Errorf("seed %d: notes %v", seed, said)
		}
	}
}

// A stuck thermometer holds one value for nine days of late November while the truth moves.
func TestOneThermometerSticks(t *testing.T) {
	m := model.New(bench(), 2, start)
	from := start.AddDate(0, 0, 80)
	seen := map[sensors.ProbeID]map[int64]bool{}
	for at := from; at.Before(from.AddDate(0, 0, 9)); at = at.Add(time.Hour) {
		for _, r := range m.Step(at).Readings {
			if seen[r.Probe] == nil {
				seen[r.Probe] = map[int64]bool{}
			}
			seen[r.Probe][r.Raw] = true
		}
	}
	if a, b := len(seen["A-t"]), len(seen["B-t"]); min(a, b) != 1 || max(a, b) < 20 {
		t.Errorf("different values in nine days: %d and %d", a, b)
	}
}

func TestThermometersSpeakInSixteenths(t *testing.T) {
	r := model.New(bench(), 2, start).Step(start.Add(time.Hour))
	for _, x := range r.Readings {
		if x.Probe == "A-t" && (x.Step != units.Step{Unit: units.Temperature, Num: 125, Den: 2}) {
			t.Errorf("%+v", x)
		}
	}
	if len(r.Readings) != 7 {
		t.Errorf("%d readings", len(r.Readings))
	}
	for i := 1; i < len(r.Readings); i++ {
		if r.Readings[i].Probe <= r.Readings[i-1].Probe {
			t.Error("not in order of probe id")
		}
	}
}

// The gauge's tips add up to the rain that fell in the open, to one tip; the pot under the sky got its share of it.
func TestTheGaugeMissesNothing(t *testing.T) {
	m := model.New(bench(), 9, start)
	fell, tipped := 0.0, 0.0
	for at := start.Add(5 * time.Minute); at.Before(start.AddDate(0, 0, 40)); at = at.Add(5 * time.Minute) {
		r := m.Step(at)
		fell += m.Sky().Rain / 12
		for _, x := range r.Readings {
			if x.Probe == "rain" {
				tipped += float64(x.Whole()) / 1000
			}
		}
	}
	a, _ := m.Truth("A")
	mouth := math.Pi * 0.085 * 0.085 * 1.23 * fell
	if fell < 20 || tipped > fell+1e-6 || tipped < fell-0.2-1e-6 {
		t.Errorf("%.2f mm fell, %.2f mm tipped", fell, tipped)
	}
	if math.Abs(a.Ledger.Rained/mouth-1) > 1e-9 {
		t.Errorf("%.3f L on the pot, its mouth caught %.3f", a.Ledger.Rained, mouth)
	}
}

func TestAWateringIsSeenByTheProbe(t *testing.T) {
	m := model.New(bench(), 9, start)
	m.Step(start.AddDate(0, 0, 12))
	before, _ := m.Truth("A")
	m.Water("A", 150)
	after, _ := m.Truth("A")
	if d := after.Litres - before.Litres; math.Abs(d-0.15) > 1e-9 {
		t.Errorf("%.3f L more", d)
	}
	if math.Abs(after.Ledger.Poured-before.Ledger.Poured-0.15) > 1e-12 {
		t.Error("not in the ledger")
	}
}

// The south is the north half a year on: its coldest day is in July.
func TestTheSouthIsColdInJuly(t *testing.T) {
	g := bench()
	g.Site.Latitude, g.Site.Longitude = -43.6, 171
	m := model.New(g, 1, start.AddDate(0, -5, 0))
	mean := func(month time.Month, year int) float64 {
		sum, n := 0.0, 0.0
		for at := time.Date(year, month, 1, 0, 0, 0, 0, time.UTC); at.Month() == month; at = at.Add(time.Hour) {
			m.Step(at)
			sum, n = sum+m.Sky().Air, n+1
		}
		return sum / n
	}
	if july, january := mean(time.July, 2026), mean(time.January, 2027); july > 5 || january < 12 {
		t.Errorf("July %.1f °C, January %.1f °C", july, january)
	}
}

// BenchmarkSeason runs a year's rest of the demo-sized garden: how many rounds and readings a second the model makes.
func BenchmarkSeason(b *testing.B) {
	rounds, readings := 0, 0
	for b.Loop() {
		season(model.New(bench(), 1, start), 60, func(r sensors.Round, _ []sensors.Note) {
			rounds, readings = rounds+1, readings+len(r.Readings)
		})
	}
	b.ReportMetric(float64(rounds)/b.Elapsed().Seconds(), "rounds/s")
	b.ReportMetric(float64(readings)/b.Elapsed().Seconds(), "readings/s")
}
