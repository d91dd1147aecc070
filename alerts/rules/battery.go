package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// batterySettings: what is low differs by cell; the figures suit two alkaline or lithium cells in a row and are guesses.
type batterySettings struct {
	Volts   units.MicroVolt `toml:"volts" help:"a cell under this is low"`
	Percent int             `toml:"percent" help:"a battery under this share of full is low"`
}

func init() {
	add(Entry{Kind: "battery", Doc: "cells sag in the cold and come back, so a charge counts only when read in mild air, and low for three days (common practice, the figures are guesses)",
		Example: "[rule.battery]\nvolts = \"2.4 V\"\npercent = 20\n", Build: buildBattery})
}

func buildBattery(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, batterySettings{Volts: 2_400_000, Percent: 20})
	return alerts.Rule{Kind: "battery", Rank: alerts.Week, Hold: 72 * time.Hour, Linger: 7 * 24 * time.Hour,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findBattery(st, found, set) },
		Say:  alerts.SayBattery}, err
}

func findBattery(st *alerts.Standing, found func(alerts.Finding), set batterySettings) {
	for i := range st.Probes {
		p := &st.Probes[i]
		if p.Probe.Measures != garden.Battery || p.MildAt.IsZero() {
			continue
		}
		low := int64(set.Volts)
		if p.Mild.Unit() == units.Charge {
			low = int64(set.Percent) * 10
		}
		if v := p.Mild.Whole(); v < low {
			f := alerts.Finding{Subject: string(p.Probe.ID), Place: p.Probe.Place, Ripe: 1, Level: 1, Facts: alerts.Facts{Word: string(p.Probe.ID)}}
			if p.Probe.Pot != "" {
				f.Pots = []string{p.Probe.Pot}
			}
			found(f)
		}
	}
}
