package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

type waterSettings struct {
	PotAbove units.MilliCelsius `toml:"pot-above"` // in rest, the pot must be warmer than this (+2 °C)
}

func init() {
	add(Entry{Kind: "water", Doc: "a growing pot under its limit, or a wet-winter pot dry for some thawed days, wants water (growers' habit, figures are guesses)",
		Example: "[rule.water]\npot-above = \"2 °C\"\n", Build: buildWater})
}

func buildWater(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, waterSettings{PotAbove: 2000})
	return alerts.Rule{Kind: "water", Rank: alerts.Week, Hold: time.Hour, Linger: 12 * time.Hour, From: alerts.At(7, 0), Until: alerts.At(11, 0), Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findDry(st, found, set.PotAbove, false) },
		Say:  alerts.SayWater}, err
}
