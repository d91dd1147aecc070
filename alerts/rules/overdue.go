package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

// overdueSettings: after a rest that was too short noses may stop at the surface or come late (growers in mild winters).
type overdueSettings struct {
	ShortRestDay int `toml:"short-rest-day" help:"day of the plants' year (1 September is 0; shifted in the south) after which a plant whose rest was short is called late: 287 is mid June"`
}

func init() {
	add(Entry{Kind: "overdue", Doc: "no nose noted past the late end (90th percentile, widened by half) of the window is late, not dead: dig with a finger (growers' habit; class guesses)",
		Example: "[rule.overdue]\nshort-rest-day = 287\n", Build: buildOverdue})
}

func buildOverdue(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, overdueSettings{ShortRestDay: 287})
	return alerts.Rule{Kind: "overdue", Rank: alerts.Week, Hold: 3 * 24 * time.Hour, Linger: 14 * 24 * time.Hour, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findOverdue(st, found, set) },
		Say:  alerts.SayOverdue}, err
}

func findOverdue(st *alerts.Standing, found func(alerts.Finding), set overdueSettings) {
	day := st.Cal.SeasonDay(st.Day)
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.Stage != alerts.Closed && p.Stage != alerts.LeafDown {
			continue
		}
		short := p.Cold == alerts.NotYet && day >= set.ShortRestDay
		if !p.Overdue && !short {
			continue
		}
		word := ""
		if short {
			word = "short"
		}
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1, Facts: alerts.Facts{Word: word, Guess: true}})
	}
}
