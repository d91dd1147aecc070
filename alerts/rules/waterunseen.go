package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "water-unseen", Doc: "a line of the digest when twelve hours after a noted watering, the sitter's ticks among them, the pot's moisture has hardly risen (common practice, no source)",
		Example: "[rule.water-unseen]\n", Build: buildWaterUnseen})
}

// unseenFor is how long after a watering it is still worth a look.
const unseenFor = 21 * 24 * time.Hour

func buildWaterUnseen(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "water-unseen", Rank: alerts.Digest, Linger: 6 * time.Hour, Together: true, MutedBy: []string{"probe-out", "probe-check"},
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			for i := range st.Pots {
				p := &st.Pots[i]
				if p.Contact.IsZero() || st.At.Sub(p.Contact) > unseenFor || p.Frozen {
					continue
				}
				found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1, Facts: alerts.Facts{From: p.Contact, Wet: p.Wetness}})
			}
		}, Say: alerts.SayWaterUnseen}, err
}
