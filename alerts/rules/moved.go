package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "moved", Doc: "a pot whose temperature follows another place's air for three nights stands there (own reckoning on the lag of pots)",
		Example: "[rule.moved]\n", Build: buildMoved})
}

func buildMoved(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "moved", Rank: alerts.Week, Linger: 3 * 24 * time.Hour, Gather: 3 * time.Hour, Together: true, MutedBy: []string{"probe-out", "heat-pocket", "shield-sensor"},
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			for i := range st.Pots {
				p := &st.Pots[i]
				if other := place(st, p.Elsewhere); other != nil && p.ProbeOut.IsZero() {
					found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1, Facts: alerts.Facts{Word: other.Place.ID}})
				}
			}
		}, Say: alerts.SayMoved}, err
}
