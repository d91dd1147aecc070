package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "feed-stop", Doc: "liquid feed stops at the noted flower or on a set day (growers disagree: by feed hunger under [feed])",
		Example: "[rule.feed-stop]\n", Build: buildFeedStop})
}

func buildFeedStop(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "feed-stop", Rank: alerts.Digest, Linger: 7 * 24 * time.Hour, Together: true, Find: findFeedStop, Say: alerts.SayFeedStop}, err
}

// stopTold is how long after the stop it is spoken of where no feed was given since.
const stopTold = 14

func findFeedStop(st *alerts.Standing, found func(alerts.Finding)) {
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.Fed.IsZero() || st.At.Sub(p.Fed) > 60*24*time.Hour {
			continue // only who is being fed can stop
		}
		_, stop, flower := st.FeedStop(p)
		if st.Day < stop || p.Stage == alerts.LeafDown || st.Day-stop > stopTold && st.Cal.DateOf(p.Fed) < stop {
			continue
		}
		word := "date"
		if flower {
			word = "flower"
		}
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1, Facts: alerts.Facts{Word: word}})
	}
}
