package rules

import (
	"lathwatch/alerts"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// weevilSettings: nematodes work in moist pots from 5 °C up (their growers' pages); grubs are small in early autumn.
type weevilSettings struct {
	From  int                `toml:"from-day" help:"day of the plants' year: 0 is 1 September"`
	Until int                `toml:"until-day" help:"day of the plants' year: 50 is about 21 October"`
	Above units.MilliCelsius `toml:"pot-above" help:"daily mean the pot must be warmer than: a margin over the 5 °C of the usual labels; read yours"`
}

func init() {
	add(Entry{Kind: "weevil-drench", Doc: "nematodes against weevil grubs go into moist pots that hold more than 5 °C, in early autumn (growers of nematodes; the margin is a guess)",
		Example: "[rule.weevil-drench]\nfrom-day = 0\nuntil-day = 50\npot-above = \"8 °C\"\n", Build: buildWeevilDrench})
}

func buildWeevilDrench(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, weevilSettings{Until: 50, Above: 8000})
	return alerts.Rule{Kind: "weevil-drench", Rank: alerts.Digest, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			day := st.Cal.SeasonDay(st.Day)
			if day < set.From || day > set.Until {
				return
			}
			for i := range st.Pots {
				p := &st.Pots[i]
				if fresh(st.At, p.TempAt) && len(p.History) > 0 && p.LastMean >= set.Above && !p.Frozen {
					found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1, Facts: alerts.Facts{Guess: true}})
				}
			}
		}, Say: alerts.SayWeevilDrench}, err
}
