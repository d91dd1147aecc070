package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "heat-pocket", Doc: "6 °C over the shaded wall for 2 h by day on 2 of 3 bright days, and pot cores there 2 °C up on the others (growers' logs of frames; the figures are guesses)",
		Example: "[rule.heat-pocket]\n", Build: buildHeatPocket})
}

func buildHeatPocket(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "heat-pocket", Rank: alerts.Week, Linger: 14 * 24 * time.Hour, Until: alerts.At(21, 0),
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findHeat(st, found, indices.HeatPocket) },
		Say:  alerts.SayHeatPocket}, err
}

// findHeat finds places with a verdict. Where the keeper has since done something about the place, the same again is worse.
func findHeat(st *alerts.Standing, found func(alerts.Finding), want alerts.Heat) {
	for i := range st.Places {
		if p := &st.Places[i]; p.Heat == want {
			found(alerts.Finding{Subject: p.Place.ID, Place: p.Place.ID, Pots: potsAt(st, p.Place.ID), Ripe: 1, Level: 1 + p.OpenedUp,
				Facts: alerts.Facts{High: p.HeatPeak, Guess: true}})
		}
	}
}

func potsAt(st *alerts.Standing, place string) []string {
	var ids []string
	for i := range st.Pots {
		if st.Pots[i].Place == place {
			ids = append(ids, st.Pots[i].Pot.ID)
		}
	}
	return ids
}
