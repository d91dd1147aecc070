package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// moveInSettings: growers cover dry-rest pots from late October to mid November once leaves are down; the exact date matters
// little for hardening (controlled trials). Days are of the plants' year: 1 September is 0, shifted by half a year in the south.
type moveInSettings struct {
	From  int `toml:"from-day" help:"day of the plants' year: 50 is about 21 October"`
	Until int `toml:"until-day" help:"day of the plants' year: 85 is about 25 November"`
}

func init() {
	add(Entry{Kind: "move-in", Doc: "dry-rest pots go under the shelter once their leaves are down, late October to mid November (growers' habit; trials found the date uncritical)",
		Example: "[rule.move-in]\nfrom-day = 50\nuntil-day = 85\n", Build: buildMoveIn})
}

func buildMoveIn(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, moveInSettings{From: 50, Until: 85})
	return alerts.Rule{Kind: "move-in", Rank: alerts.Week, Hold: 24 * time.Hour, Linger: 7 * 24 * time.Hour, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findMoveIn(st, found, set) },
		Say:  alerts.SayMoveIn}, err
}

func findMoveIn(st *alerts.Standing, found func(alerts.Finding), set moveInSettings) {
	day := st.Cal.SeasonDay(st.Day)
	if day < set.From || day > set.Until || !anyRoof(st) {
		return
	}
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.Regime == nil || p.Regime.Heat || !p.Regime.Rest.Speak[garden.TooWet] {
			continue
		}
		ripe := 1.0
		if p.Phase != garden.Rest || p.ColdStart.IsZero() {
			ripe = almost // goes in with the others, but does not call for it
		}
		if pl := place(st, p.Place); pl != nil && !pl.Place.Roof {
			found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: ripe, Level: 1, Facts: alerts.Facts{Wet: p.Wetness}})
		}
	}
}

func anyRoof(st *alerts.Standing) bool {
	for i := range st.Places {
		if st.Places[i].Place.Roof {
			return true
		}
	}
	return false
}

func anyOpen(st *alerts.Standing) *alerts.PlaceStanding {
	var open *alerts.PlaceStanding
	for i := range st.Places {
		if p := &st.Places[i]; p.Place.Shaded {
			return p
		} else if !p.Place.Roof && open == nil {
			open = p
		}
	}
	return open
}
