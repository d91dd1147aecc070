package rules

import (
	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

// repotSettings: roots still grow while the bud rests and nothing is frozen, so September and October are the time.
type repotSettings struct {
	Until int `toml:"until-day" help:"day of the plants' year: 75 is mid November"`
}

func init() {
	add(Entry{Kind: "repot-window", Doc: "once leaves are down and before frost, pots may be turned out, divided and counted (raisers of seedlings: roots grow while the bud rests)",
		Example: "[rule.repot-window]\nuntil-day = 75\n", Build: buildRepotWindow})
}

func buildRepotWindow(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, repotSettings{Until: 75})
	return alerts.Rule{Kind: "repot-window", Rank: alerts.Digest, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			if st.Cal.SeasonDay(st.Day) > set.Until {
				return
			}
			for i := range st.Pots {
				p := &st.Pots[i]
				if p.Stage == alerts.LeafDown && !p.Frozen && p.Repotted.Before(p.StageAt) {
					found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1})
				}
			}
		}, Say: alerts.SayRepotWindow}, err
}
