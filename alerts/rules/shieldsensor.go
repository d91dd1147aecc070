package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "shield-sensor", Doc: "air far over the shaded wall on bright days while pot cores do not follow is a thermometer in the sun: an unshielded one reads 5 to 13 °C too high (measured trials)",
		Example: "[rule.shield-sensor]\n", Build: buildShieldSensor})
}

func buildShieldSensor(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "shield-sensor", Rank: alerts.Digest, Linger: 14 * 24 * time.Hour, MutedBy: []string{"heat-pocket"},
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findHeat(st, found, indices.HeatSunOnSensor) },
		Say:  alerts.SayShieldSensor}, err
}
