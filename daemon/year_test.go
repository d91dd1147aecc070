package daemon

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon/config"
	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/model"
	"lathwatch/sensors/tape"
)

// hundred is a garden of 100 pots in the manner of the demo's: a roofed table and a shaded wall, and of every five pots of a kind
// one with probes that speaks for the others.
func hundred(t testing.TB, sentinels bool) *garden.Garden {
	t.Helper()
	kinds := []struct{ id, regime, early, tender string }{
		{"segawai", "dry-winter", "early", "tender"}, {"franchetii", "dry-winter", "middle", "tender"}, {"henryi", "dry-winter", "late", "tender"},
		{"macranthos", "dry-winter", "middle", "hardy"}, {"parviflorum", "wet-winter", "middle", "hardy"}, {"reginae", "wet-winter", "late", "hardy"},
		{"kentuckiense", "wet-winter", "late", "hardy"}, {"acaule", "wet-winter", "middle", "hardy"}, {"hybrid-a", "wet-winter", "middle", "hardy"},
		{"hybrid-b", "dry-winter", "middle", "hardy"}}
	var b strings.Builder
	fmt.Fprint(&b, "[site]\nid = \"sorrel-bank\"\nname = \"Sorrel Bank\"\nlatitude = 54.2\nlongitude = 10.1\nzone = \"Europe/Berlin\"\nevery = \"15 min\"\n")
	fmt.Fprint(&b, "[[place]]\nid = \"table\"\nname = \"under the table\"\nroof = true\n[[place]]\nid = \"wall\"\nname = \"at the wall\"\nshaded = true\n")
	for _, k := range kinds {
		fmt.Fprintf(&b, "[[plant]]\nid = %q\nname = %q\nregime = %q\nearliness = %q\ntender = %q\n", k.id, k.id, k.regime, k.early, k.tender)
	}
	probe := func(id, measures, key, at, unit string) {
		fmt.Fprintf(&b, "[[probe]]\nid = %q\nmeasures = %q\n%s = %q\n", id, measures, key, at)
		if unit != "" {
			fmt.Fprintf(&b, "unit = %q\n", unit)
		}
	}
	for i, k := range kinds {
		for half := range 2 {
			litres, material := []string{"3 L", "1.5 L"}[half], []string{"plastic", "plastic", "clay"}[(i+half)%3]
			for n := range 5 {
				fmt.Fprintf(&b, "[[pot]]\nid = \"P%d%d%d\"\nplant = %q\nplace = \"wall\"\nvolume = %q\nmaterial = %q\n", i, half, n, k.id, litres, material)
				if sentinels && n == 0 {
					fmt.Fprintf(&b, "relatives = [\"P%[1]d%[2]d1\", \"P%[1]d%[2]d2\", \"P%[1]d%[2]d3\", \"P%[1]d%[2]d4\"]\n", i, half)
				}
			}
			for n := range 5 {
				if id := fmt.Sprintf("P%d%d%d", i, half, n); n == 0 || !sentinels {
					probe(id+"-t", "pot-temperature", "pot", id, "")
					probe(id+"-m", "pot-moisture", "pot", id, "%")
				}
			}
		}
	}
	for _, place := range []string{"table", "wall"} {
		probe(place+"-air", "air-temperature", "place", place, "")
		probe(place+"-h", "air-humidity", "place", place, "")
	}
	probe("wall-rain", "rain", "place", "wall", "")
	probe("wall-wind", "wind", "place", "wall", "")
	g, err := config.Parse("garden.toml", []byte(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// A year is a season lived with a model, its keeper doing as the messages say.
type year struct {
	pushed  []alerts.Change // what rang a phone
	lines   int             // lines within digests
	digests int
	rounds  int
}

func live(t testing.TB, g *garden.Garden, seed uint64, start time.Time, days int) year {
	t.Helper()
	m := model.New(g, seed, start)
	k := m.Keeper()
	w := NewWalk()
	if err := w.Fix(start, g); err != nil {
		t.Fatal(err)
	}
	door := drivers.NewDoor(g.Probes)
	var y year
	for at := start; at.Before(start.AddDate(0, 0, days)); at = at.Add(g.Site.Every) {
		for _, n := range k.Notes(at) {
			n, err := tape.Checked(n)
			if err != nil {
				t.Fatal(err)
			}
			w.note(&n)
		}
		r := m.Step(at)
		if len(r.Readings)+len(r.Faults) == 0 {
			continue
		}
		r = door.Admit(r)
		y.rounds++
		changes, err := w.Take(sensors.Entry{At: at, Round: &r})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range changes {
			y.heard(k, c)
		}
	}
	return y
}

func (y *year) heard(k *model.Keeper, c alerts.Change) {
	switch {
	case c.Text == "":
		return
	case c.Kind == "digest":
		y.digests++
		return
	case c.To == alerts.ToDigest:
		y.lines++
	default:
		y.pushed = append(y.pushed, c)
	}
	k.Hear(c.At, c.Kind, c.Pots)
}

func (y *year) byKind() string {
	count := map[string]int{}
	for _, c := range y.pushed {
		count[c.Kind]++
	}
	var all []string
	for k, n := range count {
		all = append(all, fmt.Sprintf("%3d %s", n, k))
	}
	slices.Sort(all)
	slices.Reverse(all)
	return strings.Join(all, ", ")
}

// budget is how many messages an ordinary year may ring a phone with, and hard what it must never pass: one a week, three a week from
// March to May (growers' patience, a guess). A probe in every pot is no ordinary garden: it is held to the hard one.
const (
	budget = 60
	hard   = 78
)

// In an ordinary year of 100 pots no more than 60 messages are pushed, none in quiet hours. Weather, probes, their faults and the
// keeper are the model's; without LATHWATCH_LONG only a spring is lived.
func TestMessageBudget(t *testing.T) {
	start, days, seeds, most := time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC), 75, 1, 30
	if os.Getenv("LATHWATCH_LONG") != "" {
		start, days, seeds, most = time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC), 365, 3, budget
	}
	for _, sentinels := range []bool{true, false} {
		if !sentinels && seeds == 1 {
			continue // the long form lives it
		}
		for seed := range seeds {
			t.Run(fmt.Sprintf("sentinels %v, weather %d", sentinels, seed+1), func(t *testing.T) {
				g := hundred(t, sentinels)
				y := live(t, g, uint64(seed+1), start, days)
				t.Logf("%d rounds, %d pushed, %d lines in %d digests: %s", y.rounds, len(y.pushed), y.lines, y.digests, y.byKind())
				allowed := most
				if !sentinels {
					allowed = most * hard / budget
				}
				if len(y.pushed) > allowed {
					t.Errorf("%d messages in %d days, at most %d", len(y.pushed), days, allowed)
				}
				if len(y.pushed) == 0 {
					t.Error("not one message in the span: the model or the rules are asleep")
				}
				for _, c := range y.pushed {
					if at := alerts.ClockOf(c.At, g.Site.Zone); at < alerts.QuietUntil || at >= alerts.QuietFrom {
						t.Errorf("in quiet hours: %s", list([]alerts.Change{c}))
					}
				}
				if os.Getenv("YEAR_ALL") != "" {
					t.Log(list(y.pushed))
				}
			})
		}
	}
}
