package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

// feedStopSettings: growers disagree on when to stop: at flower, in July, in mid August.
type feedStopSettings struct {
	Day int `toml:"last-day"` // day of the plants' year after which no plant is fed (334, 1 August; shifted in the south)
}

func init() {
	add(Entry{Kind: "feed-stop", Doc: "liquid feed stops at the noted flower or at a set date (growers disagree: the date is a setting)",
		Example: "[rule.feed-stop]\nlast-day = 334\n", Build: buildFeedStop})
}

func buildFeedStop(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, feedStopSettings{Day: 334})
	return alerts.Rule{Kind: "feed-stop", Rank: alerts.Digest, Linger: 7 * 24 * time.Hour, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findFeedStop(st, found, set) },
		Say:  alerts.SayFeedStop}, err
}

func findFeedStop(st *alerts.Standing, found func(alerts.Finding), set feedStopSettings) {
	late := st.Cal.SeasonDay(st.Day) >= set.Day
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.Fed.IsZero() || st.At.Sub(p.Fed) > 60*24*time.Hour {
			continue // only who is being fed can stop
		}
		if p.Stage == alerts.Flower || late && p.Stage != alerts.LeafDown {
			word := "flower"
			if p.Stage != alerts.Flower {
				word = "date"
			}
			found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1, Facts: alerts.Facts{Word: word}})
		}
	}
}
