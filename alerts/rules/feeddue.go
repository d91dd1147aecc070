package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// feedDueSettings: growers feed weakly from the first sign of growth until flowering; how often is each grower's own, so these
// are guesses.
type feedDueSettings struct {
	Modest int `toml:"modest-days"` // 28
	Usual  int `toml:"usual-days"`  // 14
	Hungry int `toml:"hungry-days"` // 10
}

func init() {
	add(Entry{Kind: "feed-due", Doc: "a growing plant before its flower is fed weakly every week or two, never into a dry pot (growers' habit, intervals are guesses)",
		Example: "[rule.feed-due]\nmodest-days = 28\nusual-days = 14\nhungry-days = 10\n", Build: buildFeedDue})
}

func buildFeedDue(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, feedDueSettings{Modest: 28, Usual: 14, Hungry: 10})
	return alerts.Rule{Kind: "feed-due", Rank: alerts.Digest, Linger: time.Hour, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findFeedDue(st, found, set) },
		Say:  alerts.SayFeedDue}, err
}

func findFeedDue(st *alerts.Standing, found func(alerts.Finding), set feedDueSettings) {
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.Stage < alerts.Opening || p.Stage > alerts.Bud || p.Phase != garden.Growth {
			continue
		}
		if p.Regime != nil && p.WetnessOK && p.Wetness < p.Regime.Cell(p.Phase).Low {
			continue // never feed a dry pot: water first
		}
		since := p.StageAt
		if p.Fed.After(since) {
			since = p.Fed
		}
		if days := st.At.Sub(since).Hours() / 24; days >= float64(set.days(p)) {
			found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1, Facts: alerts.Facts{Guess: true}})
		}
	}
}

func (s feedDueSettings) days(p *alerts.PotStanding) int {
	if p.Plant != nil {
		switch p.Plant.Hunger {
		case "modest":
			return s.Modest
		case "hungry":
			return s.Hungry
		}
	}
	return s.Usual
}
