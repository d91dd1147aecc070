package rules

import (
	"time"

	"lathwatch/alerts"
)

func init() {
	add(Entry{Kind: "broker-silent", Doc: "a broker that takes no message for hours leaves the keeper's phone silent for no good reason, so other ways say so (common practice, no source)",
		Example: "[rule.broker-silent]\n", Build: troubleRule("broker-silent", 6*time.Hour, alerts.SayBrokerSilent)})
}
