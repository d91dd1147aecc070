package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

type noSettings struct{}

func init() {
	add(Entry{Kind: "probe-check", Doc: "a moisture reading that does not rise in 72 h above 2 °C after a freeze is the probe's, not the pot's (own reckoning on thaw times)",
		Example: "[rule.probe-check]\n", Build: buildProbeCheck})
}

func buildProbeCheck(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "probe-check", Rank: alerts.Week, Linger: 24 * time.Hour, Gather: 3 * time.Hour, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			for i := range st.Pots {
				if p := &st.Pots[i]; !p.CheckProbe.IsZero() {
					found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1, Pause: 5 * 24 * time.Hour, Facts: alerts.Facts{From: p.CheckProbe}})
				}
			}
		}, Say: alerts.SayProbeCheck}, err
}
