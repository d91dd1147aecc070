package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func init() {
	add(Entry{Kind: "root-heat", Doc: "over 25 °C at the roots for 4 h on two days, or 28 °C once, calls for shade on the pot's side (single growers in hot climates; guesses)",
		Example: "[rule.root-heat]\n", Build: buildRootHeat})
}

func buildRootHeat(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "root-heat", Rank: alerts.Week, Linger: 7 * 24 * time.Hour, Until: alerts.At(21, 0), Together: true,
		Find: findRootHeat, Say: alerts.SayRootHeat}, err
}

func findRootHeat(st *alerts.Standing, found func(alerts.Finding)) {
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.HotAt.IsZero() || st.At.Sub(p.HotAt) > time.Hour || !fresh(st.At, p.TempAt) {
			continue
		}
		if p.Regime != nil && p.Regime.Heat && p.Phase == garden.Rest {
			continue // a summer bake is wanted
		}
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1,
			Facts: alerts.Facts{Temp: units.MilliCelsius(p.HotPeak), Guess: true}})
	}
}
