package rules

import (
	"time"

	"lathwatch/alerts"
)

func init() {
	add(Entry{Kind: "storage", Doc: "rounds that cannot be written are lost with the next cut of power, so the keeper is told (common practice, no source)",
		Example: "[rule.storage]\n", Build: troubleRule("storage", 10*time.Minute, alerts.SayStorage)})
}
