package rules

import (
	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// iceBathSettings: melting ice in water is 0 °C within a few hundredths of a degree: the one fixed point everybody has.
type iceBathSettings struct {
	From  int `toml:"from-day" help:"day of the plants' year: 30 is about 1 October"`
	Until int `toml:"until-day" help:"day of the plants' year: 60 is about 31 October"`
}

func init() {
	add(Entry{Kind: "ice-bath", Doc: "once every autumn thermometers are held in melting ice before frost is judged by them (handbook practice)",
		Example: "[rule.ice-bath]\nfrom-day = 30\nuntil-day = 60\n", Build: buildIceBath})
}

func buildIceBath(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, iceBathSettings{From: 30, Until: 60})
	return alerts.Rule{Kind: "ice-bath", Rank: alerts.Digest,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			if day := st.Cal.SeasonDay(st.Day); day < set.From || day > set.Until {
				return
			}
			n := 0
			for i := range st.Probes {
				if m := st.Probes[i].Probe.Measures; m == garden.AirTemperature || m == garden.PotTemperature {
					n++
				}
			}
			if n > 0 {
				found(alerts.Finding{Subject: "garden", Ripe: 1, Level: 1, Facts: alerts.Facts{Count: n}})
			}
		}, Say: alerts.SayIceBath}, err
}
