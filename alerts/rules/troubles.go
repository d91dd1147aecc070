package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

// troubleRule speaks of what is wrong with the daemon itself. It holds a while, so that what mends itself is not told, and lingers
// longer, so that what comes and goes is told once.
func troubleRule(kind string, hold time.Duration, say func(alerts.Group) string) func(table.Raw) (alerts.Rule, error) {
	return func(raw table.Raw) (alerts.Rule, error) {
		_, err := settings(raw, noSettings{})
		return alerts.Rule{Kind: kind, Rank: alerts.Week, Hold: hold, Linger: 12 * time.Hour, Outside: true,
			Find: func(st *alerts.Standing, found func(alerts.Finding)) {
				for _, t := range st.Troubles {
					if t.Kind == kind || kind == "broker-silent" && t.Kind == "broker" {
						found(alerts.Finding{Subject: "garden", Ripe: 1, Level: 1, Facts: alerts.Facts{Word: t.Text}})
					}
				}
			}, Say: say}, err
	}
}
