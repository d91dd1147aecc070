package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "probe-out", Doc: "a moisture reading that falls to the air's from one sample to the next, while the pot's thermometer begins to follow the air, is a probe out of its pot (own reckoning on the lag of pots)",
		Example: "[rule.probe-out]\n", Build: buildProbeOut})
}

// buildProbeOut holds for an hour: who repots writes it down when the hands are clean again.
func buildProbeOut(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "probe-out", Rank: alerts.Week, Hold: time.Hour, Linger: time.Hour, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			for i := range st.Pots {
				if p := &st.Pots[i]; !p.ProbeOut.IsZero() {
					found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1, Facts: alerts.Facts{From: p.ProbeOut}})
				}
			}
		}, Say: alerts.SayProbeOut}, err
}
