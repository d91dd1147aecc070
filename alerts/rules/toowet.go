package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "too-wet", Doc: "a pot that rests dry and stays over its limit for some thawed days rots in the cold (growers' habit, the figures are guesses)",
		Example: "[rule.too-wet]\n", Build: buildTooWet})
}

// buildTooWet: a pot dries by a point or two a day in rest, so an alert lingers a day over a pause in the readings.
func buildTooWet(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "too-wet", Rank: alerts.Week, Linger: 24 * time.Hour, Until: alerts.At(12, 0), Gather: 3 * time.Hour, Together: true, MutedBy: []string{"move-in"},
		Find: findTooWet, Say: alerts.SayTooWet}, err
}

func findTooWet(st *alerts.Standing, found func(alerts.Finding)) {
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.Regime == nil || p.WetDays <= 0 || !p.WetnessOK || p.WetHeld || !fresh(st.At, p.WetnessAt) {
			continue
		}
		cell := p.Regime.Cell(p.Phase)
		if !cell.Speak[garden.TooWet] || cell.High == 0 || cell.HighDays == 0 || p.Wetness <= cell.High-20 {
			continue
		}
		roof := ""
		if pl := place(st, p.Place); pl != nil && !pl.Place.Roof {
			if st.Cal.SeasonDay(st.Day) >= outAgain {
				continue // the keeper has put it out for the year
			}
			roof = roofed(st)
		}
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: p.WetDays / float64(cell.HighDays), Level: 1,
			Facts: alerts.Facts{Wet: p.Wetness, High: float64(cell.High), Count: cell.HighDays, Word: roof, Guess: true}})
	}
}

// outAgain is the season day, in March, from which a pot that stands in the open is there for the growing season.
const outAgain = 200

// roofed is the name of the first place with a roof.
func roofed(st *alerts.Standing) string {
	for i := range st.Places {
		if p := st.Places[i].Place; p.Roof {
			return p.Name
		}
	}
	return ""
}
