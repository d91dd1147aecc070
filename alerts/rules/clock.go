package rules

import (
	"time"

	"lathwatch/alerts"
)

func init() {
	add(Entry{Kind: "clock", Doc: "readings without a trusted time are judged on a provisional one, and the keeper is told (common practice, no source)",
		Example: "[rule.clock]\n", Build: troubleRule("clock", 30*time.Minute, alerts.SayClock)})
}
