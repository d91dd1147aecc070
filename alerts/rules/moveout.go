package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// moveOutSettings: growers uncover from late March and move out in April and May as late frosts become unlikely. Days are of the
// plants' year: 1 September is 0, shifted by half a year in the south. The risk a keeper takes is a setting.
type moveOutSettings struct {
	From    int     `toml:"from-day" help:"day of the plants' year: 222 is about 10 April"`
	Until   int     `toml:"until-day" help:"day of the plants' year: 290 is about mid June"`
	Risk    float64 `toml:"risk" help:"chance of a harmful night in the next fortnight that is taken"`
	Without int     `toml:"without-climate-day" help:"without climate figures, from this day of the plants' year on: 258 is mid May"`
}

func init() {
	add(Entry{Kind: "move-out", Doc: "plants go from the shelter to the wall when a harmful night in the next fortnight has become unlikely for what each plant shows or will show (growers' habit; chance from the garden's climate figures, limits and risk are guesses)",
		Example: "[rule.move-out]\nfrom-day = 222\nuntil-day = 290\nrisk = 0.2\nwithout-climate-day = 258\n", Build: buildMoveOut})
}

func buildMoveOut(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, moveOutSettings{From: 222, Until: 290, Risk: 0.2, Without: 258})
	return alerts.Rule{Kind: "move-out", Rank: alerts.Week, Hold: 24 * time.Hour, Linger: 7 * 24 * time.Hour, Together: true,
		Over: func(st *alerts.Standing, f alerts.Finding) bool { return stands(st, f, false) },
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findMoveOut(st, found, set) },
		Say:  alerts.SayMoveOut}, err
}

// waitRisk is up to how many times the risk a plant's chance is nearly small enough: the others wait for it, since pots are carried in one
// go and chances halve in a week or two (a guess).
const waitRisk = 2

func findMoveOut(st *alerts.Standing, found func(alerts.Finding), set moveOutSettings) {
	day := st.Cal.SeasonDay(st.Day)
	if day < set.From || day > set.Until {
		return
	}
	wall := anyOpen(st)
	if wall == nil || wall.FrostKnown && wall.FrostAhead {
		return
	}
	var ready []alerts.Finding
	for i := range st.Pots {
		p := &st.Pots[i]
		pl := place(st, p.Place)
		if p.Regime == nil || p.Regime.Name != "dry-winter" && p.Regime.Name != "bone-dry" || p.Stage == alerts.LeafDown || pl == nil || !pl.Place.Roof {
			continue
		}
		facts := alerts.Facts{Word: wall.Place.Name, Guess: true}
		limit := p.StageLimit()
		if p.Stage < alerts.Opening {
			limit = p.OpeningLimit() // it opens within the fortnight
		}
		at, known := st.NightChance(wall, limit)
		switch {
		case !known && day < set.Without, known && at > waitRisk*set.Risk:
			continue
		case known && at > set.Risk:
			return // it is soon safe, and they go together
		case known:
			facts.Low = at
			facts.High, _ = st.NightChance(pl, limit)
		}
		ripe := 1.0
		if p.Phase != garden.Growth && day < set.Without {
			ripe = almost // goes out with the others, but does not call for it
		}
		ready = append(ready, alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: ripe, Level: 1, Facts: facts})
	}
	for _, f := range ready {
		found(f)
	}
}
