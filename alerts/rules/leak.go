package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// leakSettings: how long after the water stopped rising a leak is still news (a guess).
type leakSettings struct {
	News units.Span `toml:"news" help:"a rise older than this is no news"`
}

func init() {
	add(Entry{Kind: "leak", Doc: "a resting pot under a roof that gains 8 points within 12 h with no watering noted stands under a drip (growers' habit, the figures are guesses)",
		Example: "[rule.leak]\nnews = \"36 h\"\n", Build: buildLeak})
}

func buildLeak(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, leakSettings{News: units.Span(36 * time.Hour)})
	return alerts.Rule{Kind: "leak", Rank: alerts.Week, Linger: time.Hour, Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findLeak(st, found, time.Duration(set.News)) },
		Say:  alerts.SayLeak}, err
}

func findLeak(st *alerts.Standing, found func(alerts.Finding), news time.Duration) {
	for i := range st.Pots {
		p := &st.Pots[i]
		if !leaking(st, p, news) {
			continue
		}
		up := alerts.Facts{Low: float64(p.Step.From), High: float64(p.Step.To), From: p.Step.Start, Until: p.Step.At}
		up.Count, up.Word = neighbours(st, p, news)
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: 1, Facts: up})
	}
}

// leaking: the regime knows leaks, the pot is under a roof and thawed, and nobody's note, no thaw and no feed explains the rise.
func leaking(st *alerts.Standing, p *alerts.PotStanding, news time.Duration) bool {
	if !p.StepOK || p.Regime == nil || p.Step.Cause != indices.StepWater || p.Frozen || p.WetHeld || p.Leapt || st.At.Sub(p.Step.At) > news {
		return false
	}
	pl := place(st, p.Place)
	return pl != nil && pl.Place.Roof && p.Regime.Cell(p.Phase).Speak[garden.Leak] && p.WetnessOK
}

// neighbours counts the other pots under a roof that can be read, and says whether rain is known to have fallen.
func neighbours(st *alerts.Standing, p *alerts.PotStanding, news time.Duration) (dry int, rain string) {
	for i := range st.Pots {
		o := &st.Pots[i]
		if pl := place(st, o.Place); o.Pot.ID == p.Pot.ID || pl == nil || !pl.Place.Roof || !o.WetnessOK {
			continue
		}
		if !leaking(st, o, news) {
			dry++
		}
	}
	for i := range st.Places {
		if pl := &st.Places[i]; pl.RainKnown && pl.Rain24 >= 1000 {
			return dry, "rain"
		} else if pl.RainKnown {
			rain = "no rain"
		}
	}
	return dry, rain
}
