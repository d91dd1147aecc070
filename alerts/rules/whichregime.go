package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "which-regime", Doc: "without a water regime nothing can be said about a pot's water, so the keeper is asked and nothing is assumed (kinds differ, growers agree)",
		Example: "[rule.which-regime]\n", Build: buildWhichRegime})
}

func buildWhichRegime(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "which-regime", Rank: alerts.Week, Hold: time.Hour, Linger: time.Hour, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			for i := range st.Pots {
				if p := &st.Pots[i]; p.Regime == nil {
					found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1})
				}
			}
		}, Say: alerts.SayWhichRegime}, err
}
