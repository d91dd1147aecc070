package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "feed-due", Doc: "a growing plant is fed weakly every week or two until its stop, never into a dry pot (growers' habit, intervals are guesses; how often and until when stands under [feed])",
		Example: "[rule.feed-due]\n", Build: buildFeedDue})
}

func buildFeedDue(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "feed-due", Rank: alerts.Digest, Linger: time.Hour, Together: true, Find: findFeedDue, Say: alerts.SayFeedDue}, err
}

func findFeedDue(st *alerts.Standing, found func(alerts.Finding)) {
	for i := range st.Pots {
		p := &st.Pots[i]
		group, stop, _ := st.FeedStop(p)
		growing := p.Stage >= alerts.Opening && p.Stage <= alerts.Flower && p.Phase == garden.Growth
		if !growing || st.Day >= stop || group.Feeds > 0 && len(p.Feeds) >= group.Feeds {
			continue
		}
		if p.Regime != nil && p.WetnessOK && p.Wetness < p.Regime.Cell(p.Phase).Low {
			continue // never feed a dry pot: water first
		}
		since := p.StageAt
		if p.Fed.After(since) {
			since = p.Fed
		}
		if days := st.At.Sub(since).Hours() / 24; days >= float64(group.Every) {
			found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1, Facts: alerts.Facts{Guess: true}})
		}
	}
}
