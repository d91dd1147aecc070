package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

// dressSettings: growers dress two weeks before noses show, and late is the usual fault; granules release slowly in the cold, so
// early is cheap (trials of coated granules).
type dressSettings struct {
	Lead float64 `toml:"lead-days" help:"days before the early edge of the nose's window"`
}

func init() {
	add(Entry{Kind: "dress-now", Doc: "granules and a first soak two weeks before the early edge (20th percentile) of the nose's window; a nose with no dressing noted is today (growers' habit; the window's figures are class guesses)",
		Example: "[rule.dress-now]\nlead-days = 14.0\n", Build: buildDressNow})
}

func buildDressNow(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, dressSettings{Lead: 14})
	return alerts.Rule{Kind: "dress-now", Rank: alerts.Week, Linger: 14 * 24 * time.Hour, Together: true, Over: dressed,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findDressNow(st, found, set) },
		Say:  alerts.SayDressNow}, err
}

func dressed(st *alerts.Standing, f alerts.Finding) bool {
	p := potOf(st, f.Subject)
	return p != nil && !p.Dressed.IsZero()
}

func findDressNow(st *alerts.Standing, found func(alerts.Finding), set dressSettings) {
	for i := range st.Pots {
		p := &st.Pots[i]
		if !p.Dressed.IsZero() {
			continue
		}
		f := alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Level: 1, Facts: alerts.Facts{Guess: true}}
		switch {
		case p.Stage >= alerts.Nose && p.Stage < alerts.Flower && !p.StageAt.Before(st.SeasonFrom):
			f.Ripe, f.Facts.Word, f.Facts.Guess = 1, "nose", false
		case p.EdgeDays.OK:
			f.Ripe = min(set.Lead/max(p.EdgeDays.Low, 0.1), 1)
			f.Facts.Word = p.BreakHow
		}
		if f.Ripe > 0.5 {
			found(f)
		}
	}
}
