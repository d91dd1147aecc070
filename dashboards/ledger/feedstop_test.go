package ledger_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"lathwatch/alerts"
	"lathwatch/alerts/rules"
	"lathwatch/dashboards/ledger"
	"lathwatch/sensors/garden"
)

// Whatever the plan, the hemisphere and the dates a plant has, on every day of a year the rules and the page agree on whether liquid
// feed is over, and why.
func TestTheRulesAndThePageStopTheFeedOnTheSameDay(t *testing.T) {
	shelf, err := rules.Build(nil)
	if err != nil {
		t.Fatal(err)
	}
	dues := 0
	rapid.Check(t, func(rt *rapid.T) {
		c := garden.Calendar{Zone: time.UTC, South: rapid.Bool().Draw(rt, "south")}
		g := &garden.Garden{}
		for name, group := range map[string]*garden.FeedGroup{"modest": &g.Feed.Modest, "usual": &g.Feed.Usual, "hungry": &g.Feed.Hungry} {
			if rapid.Bool().Draw(rt, name+" has its own day") {
				group.Until = garden.MonthDay{Month: time.Month(rapid.IntRange(1, 12).Draw(rt, "month")), Day: rapid.IntRange(1, 28).Draw(rt, "day")}
			}
		}
		start := c.SeasonStart(2027)
		var pots []grown
		for _, hunger := range []string{"", "modest", "usual", "hungry"} {
			w := grown{plant: &garden.Plant{ID: hunger, Hunger: hunger}, pot: &garden.Pot{ID: "P" + hunger, Litres: 3000}}
			w.opening = start + garden.Date(rapid.IntRange(150, 290).Draw(rt, "opening"))
			if rapid.Bool().Draw(rt, "flowers") {
				w.flower = w.opening + garden.Date(rapid.IntRange(5, 120).Draw(rt, "flower"))
			}
			pots = append(pots, w)
		}
		for day := start + 140; day < start+140+365; day++ {
			st := &alerts.Standing{At: c.Start(day).Add(12 * time.Hour), Day: day, Cal: c, Season: c.Season(day), Garden: g}
			st.SeasonFrom = c.Start(c.SeasonStart(st.Season))
			for _, w := range pots {
				st.Pots = append(st.Pots, w.on(st))
			}
			stop := spoken(shelf, "feed-stop", st)
			for i := range st.Pots {
				st.Pots[i].Fed = st.At.AddDate(0, 0, -40)
			}
			due := spoken(shelf, "feed-due", st)
			dues += len(due)
			for i := range st.Pots {
				ps := &st.Pots[i]
				f := ledger.PlanOf(g).FedNow(st, ps)
				over := day >= f.Stop
				if word, said := stop[ps.Pot.ID]; said != over || said && (word == "flower") != f.ByFlower {
					rt.Fatalf("%v, %s: the rule stops it %v (%s), the page says it ends on %v, by the flower %v", day, ps.Pot.ID, said, word, f.Stop, f.ByFlower)
				}
				if _, said := due[ps.Pot.ID]; said && over {
					rt.Fatalf("%v, %s: feed is due and the page says it ended on %v", day, ps.Pot.ID, f.Stop)
				}
			}
		}
	})
	if dues == 0 {
		t.Error("feed was never due")
	}
}

// grown is a plant's course, fed the day before whatever day it is.
type grown struct {
	plant           *garden.Plant
	pot             *garden.Pot
	opening, flower garden.Date
}

func (w grown) on(st *alerts.Standing) alerts.PotStanding {
	ps := alerts.PotStanding{Pot: w.pot, Plant: w.plant, Phase: garden.Growth, Fed: st.At}
	see := func(day garden.Date, stage alerts.Stage, first *time.Time) {
		at := st.Cal.Start(day).Add(9 * time.Hour)
		if day == 0 || at.After(st.At) {
			return
		}
		ps.Stage, ps.StageAt = stage, at
		if !at.Before(st.SeasonFrom) { // a new season knows no dates of the last one
			*first = at
		}
	}
	see(w.opening, alerts.Opening, &ps.OpenedAt)
	see(w.flower, alerts.Flower, &ps.FlowerAt)
	return ps
}

// spoken runs one rule and gives each pot's word.
func spoken(shelf []alerts.Rule, kind string, st *alerts.Standing) map[string]string {
	said := map[string]string{}
	for _, r := range shelf {
		if r.Kind == kind {
			r.Find(st, func(f alerts.Finding) {
				if f.Ripe >= 1 {
					said[f.Subject] = f.Facts.Word
				}
			})
		}
	}
	return said
}
