package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// drainCheckSettings: a growing pot stands on a blocked hole when it stays full in the warm; the figures are guesses.
type drainCheckSettings struct {
	Above units.MilliCelsius `toml:"pot-above" help:"daily mean the pot must be warmer than"`
}

func init() {
	add(Entry{Kind: "drain-check", Doc: "a growing pot that stays over 98 % for five days in the warm does not drain (common practice, the figures are guesses)",
		Example: "[rule.drain-check]\npot-above = \"8 °C\"\n", Build: buildDrainCheck})
}

func buildDrainCheck(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, drainCheckSettings{Above: 8000})
	return alerts.Rule{Kind: "drain-check", Rank: alerts.Week, Linger: 24 * time.Hour, Gather: 3 * time.Hour, Together: true, MutedBy: []string{"probe-out", "probe-check"},
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findUndrained(st, found, set.Above) },
		Say:  alerts.SayDrainCheck}, err
}

func findUndrained(st *alerts.Standing, found func(alerts.Finding), above units.MilliCelsius) {
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.Regime == nil || p.Phase != garden.Growth || p.WetDays <= 0 || !p.WetnessOK || p.WetHeld || !fresh(st.At, p.WetnessAt) {
			continue
		}
		cell := p.Regime.Cell(p.Phase)
		if !cell.Speak[garden.DrainCheck] || cell.HighDays == 0 || p.LastMean <= above {
			continue
		}
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: p.WetDays / float64(cell.HighDays), Level: 1,
			Facts: alerts.Facts{Wet: p.Wetness, Count: cell.HighDays}})
	}
}
