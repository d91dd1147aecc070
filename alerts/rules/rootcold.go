package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// rootColdSettings: trials with other perennials in small pots put harm at -5 to -8 °C and best looks 3 to 6 °C above the death
// point; for these plants the limits are guesses. Before 1 December (1 June) roots are not yet hardened.
type rootColdSettings struct {
	Hardy  units.MilliCelsius `toml:"hardy" help:"limit at the core of pots of hardy kinds"`
	Dry    units.MilliCelsius `toml:"dry" help:"the same of dry-winter kinds"`
	Never  units.MilliCelsius `toml:"never" help:"the same of never-freeze kinds"`
	Autumn units.MilliCelsius `toml:"autumn" help:"added to each before 1 December (June in the south)"`
}

func init() {
	add(Entry{Kind: "root-cold", Doc: "roots in a pot above ground are the tender part (trials on other perennials; limits for these plants are guesses)",
		Example: "[rule.root-cold]\nhardy = \"-5 °C\"\ndry = \"-3 °C\"\nnever = \"0.5 °C\"\nautumn = \"3 °C\"\n", Build: buildRootCold})
}

func buildRootCold(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, rootColdSettings{Hardy: -5000, Dry: -3000, Never: 500, Autumn: 3000})
	return alerts.Rule{Kind: "root-cold", Rank: alerts.Week, Hold: time.Hour, Linger: 4 * 24 * time.Hour, Gather: 2 * time.Hour, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findRootCold(st, found, set) },
		Say:  alerts.SayRootCold}, err
}

// rootNear is how near to its limit a pot is named with others that are past theirs, and how far past it is worse; so is one in air
// past its limit, which it will follow. Then the place is left alone for rootPause. Guesses.
const (
	rootNear  = 2500
	rootPause = 5 * 24 * time.Hour
)

func findRootCold(st *alerts.Standing, found func(alerts.Finding), set rootColdSettings) {
	for i := range st.Pots {
		p := &st.Pots[i]
		if !p.TempOwn || !p.TempAt.Equal(st.At) {
			continue
		}
		limit := set.limit(p)
		if _, m, _ := st.Cal.Northern(st.Day).Civil(); m >= time.August && m <= time.November && limit != set.Never {
			limit += set.Autumn
		}
		air := place(st, p.Place)
		follows := air != nil && fresh(st.At, air.AirAt) && air.Air < limit
		if p.Temp >= limit+rootNear && !follows {
			continue
		}
		ripe, level := 1.0, 1
		switch {
		case p.Temp >= limit:
			ripe = almost
		case p.Temp < limit-rootNear:
			level = 2
		}
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: ripe, Level: level, Pause: rootPause,
			Facts: alerts.Facts{Temp: p.Temp, Limit: limit, Guess: true}})
	}
}

func (s rootColdSettings) limit(p *alerts.PotStanding) units.MilliCelsius {
	tender := garden.UnknownTender
	if p.Plant != nil {
		tender = p.Plant.Tender
	}
	switch {
	case tender == garden.NeverFreeze:
		return s.Never
	case tender == garden.Tenderish, tender == garden.UnknownTender && p.Regime != nil && p.Regime.Name != "wet-winter":
		return s.Dry
	}
	return s.Hardy
}
