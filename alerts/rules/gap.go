package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "gap", Doc: "after two hours or more without any reading the keeper is told once, on return (common practice, no source)",
		Example: "[rule.gap]\n", Build: buildGap})
}

// told is how long after its end a gap may still be spoken of.
const told = 12 * time.Hour

func buildGap(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "gap", Rank: alerts.Week, Linger: time.Hour,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			if !st.GapUntil.IsZero() && st.At.Sub(st.GapUntil) < told {
				found(alerts.Finding{Subject: "garden", Ripe: 1, Level: 1, Facts: alerts.Facts{From: st.GapSince, Until: st.GapUntil, Names: st.GapKept}})
			}
		}, Say: alerts.SayGap}, err
}
