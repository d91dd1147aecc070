package rules

import (
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// bank is a shelter and a wall on a day, with one dry-winter pot.
func bank(y int, m time.Month, d int) *alerts.Standing {
	g := &garden.Garden{Places: []garden.Place{{ID: "table", Roof: true}, {ID: "wall", Name: "the wall", Shaded: true}}, Plants: []garden.Plant{{ID: "p", Earliness: garden.Middle}},
		Pots: []garden.Pot{{ID: "D7", Plant: "p", Litres: 3000}}}
	at := time.Date(y, m, d, 10, 0, 0, 0, time.UTC)
	st := &alerts.Standing{At: at, Garden: g, Cal: garden.Calendar{Zone: time.UTC}}
	st.Day = st.Cal.DateOf(at)
	st.Season = st.Cal.Season(st.Day)
	st.Places = []alerts.PlaceStanding{{Place: &g.Places[0]}, {Place: &g.Places[1]}}
	st.Pots = []alerts.PotStanding{{Pot: &g.Pots[0], Plant: &g.Plants[0], Place: "wall", Regime: garden.RegimeNamed("dry-winter")}}
	return st
}

func ripeness(t *testing.T, build func(table.Raw) (alerts.Rule, error), st *alerts.Standing) float64 {
	t.Helper()
	r, err := build(table.Raw{})
	if err != nil {
		t.Fatal(err)
	}
	ripe := 0.0
	r.Find(st, func(f alerts.Finding) { ripe = max(ripe, f.Ripe) })
	return ripe
}

func TestWaterAndRainDecideWhenPotsGoInNotTheDateAlone(t *testing.T) {
	for name, c := range map[string]struct {
		day   time.Time
		stage alerts.Stage
		rest  bool
		wet   units.PerMilleFull // 0: not measured
		rain  float64            // mm in a week; under 0: no gauge
		calls bool
	}{
		"early October, leaves down, soaked, 30 mm of rain":  {time.Date(2027, 10, 8, 0, 0, 0, 0, time.UTC), alerts.LeafDown, false, 880, 30, true},
		"the same with little rain":                          {time.Date(2027, 10, 8, 0, 0, 0, 0, time.UTC), alerts.LeafDown, false, 880, 8, false},
		"the same, but not wet":                              {time.Date(2027, 10, 8, 0, 0, 0, 0, time.UTC), alerts.LeafDown, false, 500, 30, false},
		"the same with its leaves on":                        {time.Date(2027, 10, 8, 0, 0, 0, 0, time.UTC), alerts.Flower, false, 880, 30, false},
		"end of October, resting, drained":                   {time.Date(2027, 10, 28, 0, 0, 0, 0, time.UTC), alerts.LeafDown, true, 600, 2, true},
		"end of October, resting, soaked, dry week":          {time.Date(2027, 10, 28, 0, 0, 0, 0, time.UTC), alerts.LeafDown, true, 900, 2, false},
		"end of October, resting, soaked, wet week":          {time.Date(2027, 10, 28, 0, 0, 0, 0, time.UTC), alerts.LeafDown, true, 900, 25, true},
		"end of October, resting, soaked, no gauge":          {time.Date(2027, 10, 28, 0, 0, 0, 0, time.UTC), alerts.LeafDown, true, 900, -1, true},
		"mid November, resting, soaked, dry week: no longer": {time.Date(2027, 11, 16, 0, 0, 0, 0, time.UTC), alerts.LeafDown, true, 900, 2, true},
		"end of October, still growing":                      {time.Date(2027, 10, 28, 0, 0, 0, 0, time.UTC), alerts.Open, false, 600, 25, false},
	} {
		st := bank(c.day.Year(), c.day.Month(), c.day.Day())
		p := &st.Pots[0]
		p.Stage, p.Phase = c.stage, garden.Growth
		if c.rest {
			p.Phase, p.ColdStart = garden.Rest, st.At.AddDate(0, 0, -5)
		}
		p.Wetness, p.WetnessOK = c.wet, c.wet > 0
		if c.rain >= 0 {
			st.Places[1].RainKnown, st.Places[1].RainWeek = true, units.MicroMetre(1000*c.rain)
		}
		if got := ripeness(t, buildMoveIn, st) >= 1; got != c.calls {
			t.Errorf("%s: calls %v", name, got)
		}
	}
}

// In April a middle kind's opening shoots (limit -2 °C at the leaf) run a chance of frost at the wall that an early one's (-1 °C) runs
// sooner; by June neither does. The climate is invented.
func TestPotsGoOutByTheChanceOfANightUnderTheirOwnLimit(t *testing.T) {
	climate := garden.Normals{Mean: [12]float64{4, 4, 6, 9, 12, 15, 17, 17, 14, 11, 7, 5}, Spread: [12]float64{1.5, 1.5, 1.5, 1.5, 1.5, 1, 1, 1, 1, 1, 1, 1}}
	first := func(kind garden.Earliness) garden.Date {
		for d := range 60 {
			st := bank(2027, 4, 12)
			st.Climate = &climate
			st.At = st.At.AddDate(0, 0, d)
			st.Day = st.Cal.DateOf(st.At)
			st.Garden.Plants[0].Earliness = kind
			p := &st.Pots[0]
			p.Place, p.Phase, p.Stage = "table", garden.Growth, alerts.Nose
			if ripeness(t, buildMoveOut, st) >= 1 {
				wall, _ := st.NightChance(&st.Places[1], p.OpeningLimit())
				table, _ := st.NightChance(&st.Places[0], p.OpeningLimit())
				if wall > 0.2 || table >= wall {
					t.Errorf("%v: %.2f at the wall, %.2f under the table", st.At, wall, table)
				}
				return st.Day
			}
		}
		return 0
	}
	if early, middle := first(garden.Early), first(garden.Middle); middle == 0 || early <= middle {
		t.Errorf("early kinds on %v, middle ones on %v", early, middle)
	}
}

func TestTheMessagesOfMovesSayWhy(t *testing.T) {
	g := groupOf("move-in", 1, "", false)
	g.Items[0].Facts = alerts.Facts{Low: 34, Wet: 920}
	if got := alerts.SayMoveIn(g); !strings.Contains(got, "34 mm of rain fell in a week") || !strings.Contains(got, "the wettest is at 92 %") {
		t.Error(got)
	}
	g = groupOf("move-out", 1, "the wall", false)
	g.Items[0].Facts = alerts.Facts{Low: 0.12, High: 0.03}
	if got := alerts.SayMoveOut(g); !strings.Contains(got, "about 12 % there and 3 % where they are") {
		t.Error(got)
	}
}
