package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

// slugSettings: a nose is eaten while it is under some 5 cm; how long that lasts is a guess.
type slugSettings struct {
	NoseDays int `toml:"nose-days" help:"days after the first note of a nose in which it is short"`
}

func init() {
	add(Entry{Kind: "slug-night", Doc: "five hours of a night at 3 to 20 °C, damp and still, feed slugs, but not within four nights of a hard freeze; it matters while noses are under 5 cm (extension pages and grazing trials; the figures are guesses)",
		Example: "[rule.slug-night]\nnose-days = 21\n", Build: buildSlugNight})
}

func buildSlugNight(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, slugSettings{NoseDays: 21})
	return alerts.Rule{Kind: "slug-night", Rank: alerts.Week, Linger: 10 * 24 * time.Hour, Until: alerts.At(21, 0),
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findSlugNight(st, found, set) },
		Say:  alerts.SaySlugNight}, err
}

// findSlugNight speaks of a place and its short noses, so that a wet spell gives one message and not one a nose.
func findSlugNight(st *alerts.Standing, found func(alerts.Finding), set slugSettings) {
	for i := range st.Places {
		pl := &st.Places[i]
		if !pl.SlugNight {
			continue
		}
		var ids []string
		for k := range st.Pots {
			p := &st.Pots[k]
			short := (p.Stage == alerts.Nose || p.Stage == alerts.Opening) && st.At.Sub(p.StageAt) < time.Duration(set.NoseDays)*24*time.Hour
			if p.Place == pl.Place.ID && short {
				ids = append(ids, p.Pot.ID)
			}
		}
		if len(ids) > 0 {
			found(alerts.Finding{Subject: pl.Place.ID, Place: pl.Place.ID, Pots: ids, Ripe: 1, Level: 1, Facts: alerts.Facts{Guess: true}})
		}
	}
}
