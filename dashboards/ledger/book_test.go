package ledger_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lathwatch/dashboards/ledger"
	"lathwatch/dashboards/review"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

var cal = garden.Calendar{Zone: time.UTC}

func on(date string) time.Time {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		panic(err)
	}
	return t.Add(10 * time.Hour)
}

func note(date, subject string, what sensors.What, detail string) sensors.Note {
	return sensors.Note{At: on(date), Subject: subject, What: what, Detail: detail}
}

func small() *garden.Garden {
	return &garden.Garden{Places: []garden.Place{{ID: "table", Name: "under the table"}, {ID: "wall", Name: "at the wall"}},
		Plants: []garden.Plant{{ID: "alba", Name: "Alba Mist", Regime: "dry-winter"}, {ID: "rubra", Name: "Rubra", Regime: "wet-winter"}},
		Pots:   []garden.Pot{{ID: "A1", Plant: "alba", Place: "table"}, {ID: "R1", Plant: "rubra", Place: "wall"}, {ID: "A2", Plant: "alba", Place: "table"}}}
}

func keep(notes ...sensors.Note) *ledger.Book {
	return ledger.Keep(ledger.Source{Garden: small(), Cal: cal, Notes: notes})
}

func TestShootsAreComparedWithTheYearBefore(t *testing.T) {
	b := keep(note("2026-05-20", "A1", sensors.Shoots, "3"), note("2026-05-20", "A2", sensors.Shoots, "1"), note("2026-05-21", "R1", sensors.Shoots, "5"),
		note("2027-04-10", "A1", sensors.Nose, ""), note("2027-05-14", "A1", sensors.Flower, "4 flowers"),
		note("2027-05-20", "A1", sensors.Shoots, "6"), note("2027-05-20", "A2", sensors.Shoots, "2"), note("2027-05-21", "R1", sensors.Shoots, "6"))
	y := b.Line("alba").Year(2027)
	if !y.Counted || y.Shoots != 8 || !y.RatioOK || y.Ratio != 2 || !y.Doubled() || y.Flowers != 4 || y.Nose.String() != "2027-04-10" {
		t.Errorf("%+v", y)
	}
	if r := b.Line("rubra").Year(2027); r.Doubled() || r.Ratio != 1.2 {
		t.Errorf("%+v", r)
	}
	c := b.Collection(2027)
	if c.Shoots != 14 || c.Flowers != 4 || c.Plants != 2 || c.Doubled != 1 || c.Median != 1.6 {
		t.Errorf("%+v", c)
	}
}

func TestAPlantCountedInPartHasNoRatio(t *testing.T) {
	b := keep(note("2026-05-20", "A1", sensors.Shoots, "3"), note("2026-05-20", "A2", sensors.Shoots, "1"), note("2027-05-20", "A1", sensors.Shoots, "6"))
	if y := b.Line("alba").Year(2027); y.Counted || !y.Part || y.RatioOK {
		t.Errorf("%+v", y)
	}
}

func TestADivisionMakesNoShootsAndLosesNone(t *testing.T) {
	b := keep(note("2026-09-20", "R1", sensors.Shoots, "9"), note("2026-09-21", "R1", sensors.Divided, "R1 R2 R3"), note("2026-09-22", "R2", sensors.Shoots, "4"),
		note("2026-09-22", "R1", sensors.Shoots, "3"))
	var got []string
	for _, p := range b.Pots {
		if p.Plant == "rubra" {
			got = append(got, fmt.Sprintf("%s %d %v of %q", p.ID, p.Shoots, p.Known, p.Parent))
		}
	}
	if d := cmp.Diff([]string{`R1 3 true of ""`, `R2 4 true of "R1"`, `R3 2 true of "R1"`}, got); d != "" {
		t.Error(d)
	}
	if b.Total("rubra") != 9 {
		t.Error(b.Total("rubra"))
	}
}

func TestALossHasItsCauseAndTakesItsShoots(t *testing.T) {
	b := keep(note("2027-05-20", "A1", sensors.Shoots, "3"), note("2027-05-20", "A2", sensors.Shoots, "2"), note("2027-06-02", "A2", sensors.Lost, "slugs"))
	y := b.Line("alba").Year(2027)
	if y.Shoots != 3 || !y.Counted || len(y.Lost) != 1 || y.Lost[0].Cause != "slugs" || y.Lost[0].Shoots != 2 {
		t.Errorf("%+v", y)
	}
}

// For any course of counts, divisions and losses, in any order: what living pots have and what lies between a divided pot and its
// uncounted children is the sum of the plant's entries, and no division changes it.
func TestBookkeepingConservesShoots(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		g := &garden.Garden{Plants: []garden.Plant{{ID: "x"}}, Pots: []garden.Pot{{ID: "P0", Plant: "x", Place: "a"}}}
		var notes []sensors.Note
		alive, next := []string{"P0"}, 1
		truth := map[string]int{} // what really stands in each pot
		truth["P0"] = rapid.IntRange(1, 20).Draw(rt, "start")
		at := on("2026-09-01")
		say := func(subject string, what sensors.What, detail string) {
			at = at.Add(time.Duration(rapid.IntRange(1, 60).Draw(rt, "days")) * 24 * time.Hour)
			notes = append(notes, sensors.Note{At: at, Subject: subject, What: what, Detail: detail})
		}
		before := 0
		total := func() int { return ledger.Keep(ledger.Source{Garden: g, Cal: cal, Notes: notes}).Total("x") }
		say("P0", sensors.Shoots, fmt.Sprint(truth["P0"]))
		for range rapid.IntRange(1, 25).Draw(rt, "steps") {
			if len(alive) == 0 {
				break
			}
			i := rapid.IntRange(0, len(alive)-1).Draw(rt, "pot")
			id := alive[i]
			before = total()
			switch rapid.SampledFrom([]string{"count", "count", "divide", "lose"}).Draw(rt, "what") {
			case "count":
				truth[id] += rapid.IntRange(0, truth[id]+1).Draw(rt, "grown")
				say(id, sensors.Shoots, fmt.Sprint(truth[id]))
			case "divide":
				ids := []string{}
				if rapid.Bool().Draw(rt, "stays") {
					ids = append(ids, id)
				}
				for len(ids) < 2 || rapid.Bool().Draw(rt, "another") {
					ids = append(ids, fmt.Sprintf("P%d", next))
					next++
				}
				rest := truth[id]
				delete(truth, id)
				alive = append(alive[:i], alive[i+1:]...)
				for k, c := range ids {
					n := rest
					if k < len(ids)-1 {
						n = rapid.IntRange(0, rest).Draw(rt, "share")
					}
					rest -= n
					truth[c] = n
					alive = append(alive, c)
				}
				say(id, sensors.Divided, strings.Join(ids, " "))
				if got := total(); got != before {
					rt.Fatalf("dividing %s changed %d shoots into %d", id, before, got)
				}
			case "lose":
				delete(truth, id)
				alive = append(alive[:i], alive[i+1:]...)
				say(id, sensors.Lost, "rot")
			}
		}
		for _, id := range alive {
			say(id, sensors.Shoots, fmt.Sprint(truth[id]))
		}
		b := ledger.Keep(ledger.Source{Garden: g, Cal: cal, Notes: notes})
		want, stand := 0, 0
		for _, n := range truth {
			want += n
		}
		for _, p := range b.Pots {
			if p.Gone == 0 {
				stand += p.Shoots
			}
		}
		if stand != want || len(alive) > 0 && b.Total("x") != want {
			rt.Fatalf("the pots hold %d, the account says %d, there are %d\n%v", stand, b.Total("x"), want, b.Entries)
		}
	})
}

func TestALedgerFileReadsBackAsItself(t *testing.T) {
	file := strings.Join([]string{"season,plant,shoots,flowers,nose,opening,flower,leaf-down,lost,cause,ratio",
		"2024,alba,2,,2024-04-11,2024-04-20,,2023-10-02,,,", "2025,alba,4,3,2025-04-09,,2025-05-12,,,,2.00", "2025,rubra,5,,2025-05-01,,,,,,", ""}, "\n")
	known := func(p string) bool { return small().Plant(p) != nil }
	notes, bad, err := ledger.Import("old.csv", strings.NewReader(file), cal, known)
	if err != nil || len(bad) > 0 {
		t.Fatal(err, bad)
	}
	g := small()
	g.Pots = g.Pots[:2] // one pot a plant
	var out bytes.Buffer
	if err := ledger.Keep(ledger.Source{Garden: g, Cal: cal, Notes: notes}).CSV(&out); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(file, out.String()); d != "" {
		t.Error(d)
	}
}

func TestABrokenLedgerRowIsNamedAndTheRestIsUsed(t *testing.T) {
	file := "season,plant,shoots,nose\n2024,alba,2,\n2024,nobody,2,\n2025,alba,many,\n2025,alba,4,2024-04-09\n"
	notes, bad, err := ledger.Import("old.csv", strings.NewReader(file), cal, func(p string) bool { return p == "alba" })
	if err != nil || len(notes) != 1 || len(bad) != 3 {
		t.Fatal(err, notes, bad)
	}
	for i, want := range []string{`line 3: plant "nobody" is not in the garden file`, `line 4: shoots: "many"`, "line 5: nose 2024-04-09 lies in the season of 2024, not 2025"} {
		if !strings.Contains(bad[i].Error(), want) {
			t.Errorf("%v lacks %q", bad[i], want)
		}
	}
}

func TestALostLabelIsNamedByItsPlaceAndNeighbours(t *testing.T) {
	b := keep(note("2027-03-28", "R1", sensors.Moved, "table"), note("2027-05-20", "A1", sensors.Shoots, "3"))
	all := b.Positions(small())
	p, ok := ledger.Named(all, "table", 2)
	if !ok || p.Pot != "R1" || p.Left != "A1" || p.Right != "A2" || p.Name != "Rubra" {
		t.Errorf("%+v", p)
	}
	if q, ok := ledger.Between(all, "A1", "A2"); !ok || q.Plant != "rubra" {
		t.Errorf("%+v", q)
	}
	var s strings.Builder
	if err := b.WriteList(&s, small()); err != nil || !strings.Contains(s.String(), "   1  A1        Alba Mist                  3  -           ________") {
		t.Error(err, s.String())
	}
}

// Five invented years of forty plants. Whether a plant doubles hangs on how dry it stood at rest (the difference planted); everything
// else is drawn without regard to it. The review must put dryness first and call the rest noise.
func TestThePlantedDifferenceComesFirst(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 5))
	g := &garden.Garden{}
	var winters []*review.Winter
	for s := 2026; s <= 2030; s++ {
		winters = append(winters, &review.Winter{Season: s})
	}
	var notes []sensors.Note
	for i := range 40 {
		plant, pot := fmt.Sprintf("p%d", i), fmt.Sprintf("P%d", i)
		g.Plants = append(g.Plants, garden.Plant{ID: plant})
		g.Pots = append(g.Pots, garden.Pot{ID: pot, Plant: plant, Place: "wall"})
		shoots := 4
		for k, w := range winters {
			dry := 30 * rng.Float64()
			if k > 0 && dry < 12 {
				shoots = shoots*2 + rng.IntN(2)
			} else if k > 0 {
				shoots += rng.IntN(shoots)
			}
			season := cal.SeasonStart(w.Season)
			w.Pots = append(w.Pots, review.Pot{ID: pot, Plant: plant, Own: true, JudgedDays: 150, DryDays: dry, WetDays: 10 * rng.Float64(), FrozenDays: 40 * rng.Float64(),
				FreezeThaw: rng.IntN(8), Over25: 20 * rng.Float64(), ColdStart: season + 45, EnoughOn: season + garden.Date(100+rng.IntN(30)), Nose: season + garden.Date(200+rng.IntN(40)),
				Dressed: season + garden.Date(190+rng.IntN(20)), Credit: [2]float64{60 + 60*rng.Float64()}, Litres: float64(3+rng.IntN(6)) / 2,
				Coldest: review.Extreme{At: season + 130, V: -rng.Int64N(6000)}, Hottest: review.Extreme{At: season + 330, V: 20_000 + rng.Int64N(9000)},
				DryGrowth: 9 * rng.Float64()})
			notes = append(notes, note(fmt.Sprintf("%d-05-20", w.Season), pot, sensors.Shoots, fmt.Sprint(shoots)))
		}
	}
	slicesByTime(notes)
	b := ledger.Keep(ledger.Source{Garden: g, Cal: cal, Notes: notes})
	ds := ledger.Differ(b, winters, 0)
	if len(ds) < 10 || ds[0].Trait != "days too dry at rest" || ds[0].Effect < 0.8 || ds[0].Chance > 0.01 || ds[0].Doubled > 12 || ds[0].Not < 12 {
		t.Fatalf("%+v", ds)
	}
	for _, d := range ds[1:] {
		if d.Chance < 0.05 {
			t.Errorf("%s was drawn without regard to doubling and is said to stand out: %+v", d.Trait, d)
		}
	}
	if again := ledger.Differ(b, winters, 0); !cmp.Equal(again, ds) {
		t.Error("the same book gave other figures")
	}
	if few := ledger.Differ(b, winters[:1], 2031); len(few) != 0 {
		t.Error("a season without ratios compared", few)
	}
}

func slicesByTime(notes []sensors.Note) {
	for i := range notes {
		for j := i; j > 0 && notes[j].At.Before(notes[j-1].At); j-- {
			notes[j], notes[j-1] = notes[j-1], notes[j]
		}
	}
}
