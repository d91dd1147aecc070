package sentinel_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/sentinel"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// beside is a table of three pots in the same air: B dries 1.6 times as fast as A and was measured for so many days, C never was.
func beside(days int) *alerts.Standing {
	g := &garden.Garden{Pots: []garden.Pot{{ID: "A", Litres: 3000}, {ID: "B", Litres: 3000}, {ID: "C", Litres: 3000}},
		Probes: []garden.Probe{{ID: "A-m", Pot: "A", Measures: garden.PotMoisture}}}
	cal := garden.Calendar{Zone: time.UTC}
	st := &alerts.Standing{Cal: cal, Garden: g}
	rng := rand.New(rand.NewPCG(5, 5))
	for i := range g.Pots {
		st.Pots = append(st.Pots, alerts.PotStanding{Pot: &g.Pots[i], Place: "table"})
	}
	a, b := 900.0, 850.0
	for d := range days {
		point := func(w float64) alerts.DayPoint {
			return alerts.DayPoint{Day: garden.Date(20_000 + d), Wet: units.PerMilleFull(math.Round(w + 6*rng.NormFloat64())), WetOK: true, Wetted: d > 0 && d%18 == 0}
		}
		st.Pots[0].History, st.Pots[1].History = append(st.Pots[0].History, point(a)), append(st.Pots[1].History, point(b))
		air := math.Exp(0.5 * rng.NormFloat64())
		a, b = a*math.Exp(-0.03*air), b*math.Exp(-0.048*air)
		if (d+1)%18 == 0 {
			a, b = 900, 850
		}
	}
	return st
}

func TestARatioIsLearntWhereBothWereMeasuredAndSaysSo(t *testing.T) {
	for _, c := range []struct {
		days  int
		ratio float64
		say   string
	}{{40, 1 / 1.6, "Measured beside it: B dries 1.6 times as fast (37 days); the others are taken to dry as their kind does."}, {5, 1, "B and C dry like it."}} {
		st := beside(c.days)
		got := sentinel.Learn(st, sentinel.Choose(sentinel.Traits(st), 1))
		if len(got) != 1 || got[0].Pot != "A" || len(got[0].Speaks) != 2 {
			t.Fatalf("%+v", got)
		}
		if r := got[0].Speaks[0]; math.Abs(r.Ratio/c.ratio-1) > 0.1 {
			t.Errorf("%d days: B's water lasts %.2f times as long, wanted %.2f", c.days, r.Ratio, c.ratio)
		}
		if r := got[0].Speaks[1]; r.Ratio != 1 || r.Days != 0 {
			t.Errorf("C was never measured: %+v", r)
		}
		if s := got[0].String(); !strings.Contains(s, c.say) {
			t.Errorf("%d days: %s", c.days, s)
		}
	}
}

// What the measured pots do moves the guesses for the others of their kind.
func TestOwnRatesMoveTheGuesses(t *testing.T) {
	st := beside(0)
	guess := sentinel.Traits(st)[2].PerDay
	st.Pots[0].DryPerDay = 2 * guess
	got := sentinel.Traits(st)
	if !got[0].Own || got[2].Own || got[2].PerDay != 2*guess {
		t.Errorf("%+v", got)
	}
}
