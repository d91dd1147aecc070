package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "hemisphere", Doc: "where what should be summer by the latitude is the cold time of the year, or there is no latitude to tell by, the keeper is asked (common practice, no source)",
		Example: "[rule.hemisphere]\n", Build: buildHemisphere})
}

func buildHemisphere(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "hemisphere", Rank: alerts.Digest, Linger: 60 * 24 * time.Hour,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			_, known := st.Garden.Site.South()
			if known && !st.UpsideDown {
				return
			}
			word := "missing"
			if known {
				word = "upside"
			}
			found(alerts.Finding{Subject: "garden", Ripe: 1, Level: 1, Facts: alerts.Facts{Word: word}})
		}, Say: alerts.SayHemisphere}, err
}
