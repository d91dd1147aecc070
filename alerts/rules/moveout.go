package rules

import (
	"math"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// moveOutSettings: growers uncover from late March and move out in April and May as late frosts become unlikely. Days are of the
// plants' year: 1 September is 0, shifted by half a year in the south. The risk a keeper takes is a setting.
type moveOutSettings struct {
	From    int                `toml:"from-day" help:"day of the plants' year: 222 is about 10 April"`
	Until   int                `toml:"until-day" help:"day of the plants' year: 290 is about mid June"`
	Risk    float64            `toml:"risk" help:"chance of a harmful night in the next fortnight that is taken"`
	Harm    units.MilliCelsius `toml:"harm" help:"air at the wall that harms opened shoots"`
	Drop    units.MilliCelsius `toml:"night-drop" help:"how far a spring night falls below the day's mean"`
	Without int                `toml:"without-climate-day" help:"without climate figures, from this day of the plants' year on: 258 is mid May"`
}

func init() {
	add(Entry{Kind: "move-out", Doc: "plants go from the shelter to the wall when a harmful night in the next fortnight has become unlikely (growers' habit; chance from the garden's climate figures, the risk is a guess)",
		Example: "[rule.move-out]\nfrom-day = 222\nuntil-day = 290\nrisk = 0.2\nharm = \"0.5 °C\"\nnight-drop = \"5 °C\"\nwithout-climate-day = 258\n", Build: buildMoveOut})
}

func buildMoveOut(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, moveOutSettings{From: 222, Until: 290, Risk: 0.2, Harm: 500, Drop: 5000, Without: 258})
	return alerts.Rule{Kind: "move-out", Rank: alerts.Week, Hold: 24 * time.Hour, Linger: 7 * 24 * time.Hour, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findMoveOut(st, found, set) },
		Say:  alerts.SayMoveOut}, err
}

func findMoveOut(st *alerts.Standing, found func(alerts.Finding), set moveOutSettings) {
	day := st.Cal.SeasonDay(st.Day)
	if day < set.From || day > set.Until {
		return
	}
	wall := anyOpen(st)
	if wall == nil || !set.safe(st, wall, day) {
		return
	}
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.Regime == nil || p.Regime.Name != "dry-winter" && p.Regime.Name != "bone-dry" || p.Stage == alerts.LeafDown {
			continue
		}
		ripe := 1.0
		if p.Phase != garden.Growth && day < set.Without {
			ripe = almost // goes out with the others, but does not call for it
		}
		if pl := place(st, p.Place); pl != nil && pl.Place.Roof {
			found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: ripe, Level: 1,
				Facts: alerts.Facts{Word: wall.Place.Name, Guess: true}})
		}
	}
}

// safe says that the chance of a harmful night at the wall in the next fortnight is within the risk taken, and that no frost is
// expected now.
func (s moveOutSettings) safe(st *alerts.Standing, wall *alerts.PlaceStanding, day int) bool {
	if wall.FrostKnown && wall.FrostAhead {
		return false
	}
	n := st.Climate
	if n == nil {
		return day >= s.Without
	}
	none := 1.0
	for k := range garden.Date(7) { // every other night: neighbours go together
		mean, spread := indices.ClimateOn(*n, st.Cal.Northern(st.Day)+2*k)
		none *= 1 - math.Erfc((mean-s.Drop.Celsius()-s.Harm.Celsius())/spread/math.Sqrt2)/2
	}
	return 1-none <= s.Risk
}
