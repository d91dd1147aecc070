package moves_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/moves"
	"lathwatch/sensors/garden"
)

func standing(stage alerts.Stage, climate bool) *alerts.Standing {
	g := &garden.Garden{Places: []garden.Place{{ID: "wall"}, {ID: "table", Roof: true}}, Pots: []garden.Pot{{ID: "D7", Place: "wall", Litres: 3000}}}
	cal := garden.Calendar{Zone: time.UTC}
	at := time.Date(2027, 4, 15, 12, 0, 0, 0, time.UTC)
	st := &alerts.Standing{At: at, Day: cal.DateOf(at), Season: 2027, Garden: g, Cal: cal,
		Places: []alerts.PlaceStanding{{Place: &g.Places[0]}, {Place: &g.Places[1], Offset: alerts.Interval{Low: 1.9, High: 1.9, OK: true}}},
		Pots:   []alerts.PotStanding{{Pot: &g.Pots[0], Place: "wall", Stage: stage, Wetness: 800, WetnessOK: true}}}
	if climate {
		n := garden.Normals{}
		for m := range n.Mean {
			n.Mean[m], n.Spread[m] = 8, 1
		}
		st.Climate = &n
	}
	return st
}

// A climate that is the same all year: mean 8 °C, so nights of 3 °C. The chance of seven such nights is worked out with the
// distribution's own table: at the wall an opened leaf's limit of −2 °C is an air of +0.5 °C, 2.5 °C under the night.
func TestTheChanceOfAHarmfulNightIsThatOfSevenNights(t *testing.T) {
	w := moves.Weigh(standing(alerts.Opening, true))
	wall, table := w.Pots[0].Chance[0], w.Pots[0].Chance[1]
	if !(wall > table && table >= 0 && wall < 1) {
		t.Fatalf("wall %g, table %g", wall, table)
	}
	// indices.ClimateOn widens a month's spread to that of single days; with a spread s of a day the wall's chance is
	// 1 − (1 − Q(2.5/s))⁷. Solve for s and check that it is the same one that explains the table.
	q := 1 - math.Pow(1-wall, 1.0/7)
	s := 2.5 / (math.Sqrt2 * math.Erfcinv(2*q))
	under := 3 - (-2 + 0.5 - 1.9)
	want := 1 - math.Pow(1-math.Erfc(under/s/math.Sqrt2)/2, 7)
	if math.Abs(table-want) > 1e-9 || s < 1 {
		t.Errorf("the table's chance is %g, want %g by a day's spread of %g °C", table, want, s)
	}
}

func TestAClosedNoseAsksNothingOfTheAir(t *testing.T) {
	for _, c := range moves.Weigh(standing(alerts.Closed, true)).Pots[0].Chance {
		if c != 0 {
			t.Error(c)
		}
	}
	if c := moves.Weigh(standing(alerts.Bud, true)).Pots[0].Chance[0]; c <= moves.Weigh(standing(alerts.Nose, true)).Pots[0].Chance[0] {
		t.Error("a bud bears less than a nose", c)
	}
}

func TestWithoutClimateNoChanceIsSaid(t *testing.T) {
	w := moves.Weigh(standing(alerts.Opening, false))
	if w.Climate || !math.IsNaN(w.Pots[0].Chance[0]) {
		t.Errorf("%+v", w)
	}
	if p := w.Pots[0]; p.Wet != 0.8 || p.ToHalf <= 0 {
		t.Errorf("%+v", p)
	}
}

// 2.5 °C under an open sky and 0.5 °C under a roof: the leaf is 2 °C better off; the minimum was 1.9 °C higher on the night watched.
func TestAWholeCollectionMovesByOneNoteWithWhatWouldChange(t *testing.T) {
	st := standing(alerts.Opening, true)
	st.Garden.Pots = append(st.Garden.Pots, garden.Pot{ID: "D8", Place: "wall"}, garden.Pot{ID: "W1", Place: "wall"})
	for i := 1; i < 3; i++ {
		st.Pots = append(st.Pots, alerts.PotStanding{Pot: &st.Garden.Pots[i], Place: "wall"})
	}
	for i, r := range []string{"dry-winter", "dry-winter", "wet-winter"} {
		st.Pots[i].Regime = garden.RegimeNamed(r)
	}
	st.Places[0].RainKnown, st.Places[0].RainWeek = true, 34_000
	w := moves.Weigh(st)
	if len(w.Bulks) != 1 || w.Bulks[0].Regime != "dry-winter" || w.Bulks[0].Pots != 2 || len(w.Bulks[0].Changes) != 1 {
		t.Fatalf("%+v", w.Bulks)
	}
	for _, want := range []string{"2 pots now at wall. At table: the night's minimum", "minimum +1.9\u00a0°C,", "another +2.0\u00a0°C", "no rain (34 mm in the last seven days)", "the worst chance of a harmful night in the fortnight is"} {
		if got := w.Bulks[0].Changes[0]; !strings.Contains(got, want) {
			t.Errorf("lacks %q: %s", want, got)
		}
	}
	var b strings.Builder
	if err := w.HTML(&b); err != nil || !strings.Contains(b.String(), `name="all" value="dry-winter"`) {
		t.Error(err)
	}
}
