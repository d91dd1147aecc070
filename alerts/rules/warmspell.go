package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// warmSpellSettings: first guesses for nose-show are 40, 120 and 280 °C·d base 5 °C on pot temperature after enough cold, by
// class, and are uncertain by half; the share and the warmth of a spell are guesses too.
type warmSpellSettings struct {
	DayMean units.MilliCelsius `toml:"day-mean" help:"pot mean of a warm day"`
	Days    int                `toml:"days" help:"warm days in a row"`
	Share   float64            `toml:"share" help:"share of the class's early edge that must be reached"`
	Until   int                `toml:"until-day" help:"day of the plants' year after which warmth is spring: 181 is the end of February"`
}

func init() {
	add(Entry{Kind: "warm-spell", Doc: "warm days after enough cold start an early bud that frost then kills; before enough cold they are harmless (controlled trials for the shape, guesses for the figures)",
		Example: "[rule.warm-spell]\nday-mean = \"7.5 °C\"\ndays = 2\nshare = 0.4\nuntil-day = 181\n", Build: buildWarmSpell})
}

func buildWarmSpell(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, warmSpellSettings{DayMean: 7500, Days: 2, Share: 0.4, Until: 181})
	return alerts.Rule{Kind: "warm-spell", Rank: alerts.Week, Linger: 4 * 24 * time.Hour, Together: true, MutedBy: []string{"heat-pocket", "dress-now"},
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findWarmSpell(st, found, set) },
		Say:  alerts.SayWarmSpell}, err
}

func findWarmSpell(st *alerts.Standing, found func(alerts.Finding), set warmSpellSettings) {
	if st.Cal.SeasonDay(st.Day) > set.Until {
		return
	}
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.Phase != garden.Rest || p.Stage != alerts.Closed && p.Stage != alerts.LeafDown || !p.Forcing.OK || !fresh(st.At, p.TempAt) {
			continue
		}
		if p.Cold != alerts.Enough && p.Cold != alerts.Plenty || p.WarmDays < set.Days || p.LastMean < set.DayMean {
			continue
		}
		edge := alerts.EarlyEdge(p)
		if p.Forcing.Low >= edge*1.5 {
			continue
		}
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: p.Forcing.Low / (set.Share * edge), Level: 1,
			Facts: alerts.Facts{Low: p.Forcing.Low, High: edge, Guess: true}})
	}
}
