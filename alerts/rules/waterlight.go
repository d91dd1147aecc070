package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// waterLightSettings: no published moisture figure for these plants is known; the days and the warmth are growers' habit.
type waterLightSettings struct {
	PotAbove units.MilliCelsius `toml:"pot-above" help:"the pot must be warmer than this"`
}

func init() {
	add(Entry{Kind: "water-light", Doc: "a resting pot dry right through for some thawed days wants a light watering on a safe morning (growers' habit, figures are guesses)",
		Example: "[rule.water-light]\npot-above = \"2 °C\"\n", Build: buildWaterLight})
}

func buildWaterLight(raw table.Raw) (alerts.Rule, error) {
	set, err := settings(raw, waterLightSettings{PotAbove: 2000})
	return alerts.Rule{Kind: "water-light", Rank: alerts.Week, Hold: 0, Linger: 12 * time.Hour, From: alerts.At(7, 0), Until: alerts.At(11, 0), Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findDry(st, found, set.PotAbove, true) },
		Say:  alerts.SayWaterLight}, err
}

// findDry finds pots that are dry by their regime's row: those whose row wants a light watering, or the others.
func findDry(st *alerts.Standing, found func(alerts.Finding), above units.MilliCelsius, light bool) {
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.DryDays <= 0 && p.DrySince.IsZero() || p.Regime == nil || !p.WetnessOK {
			continue
		}
		cell := p.Regime.Cell(p.Phase)
		if cell.LowDays == 0 { // growth, see findThirsty
			continue
		}
		if cell.Light != light || !cell.Speak[garden.TooDry] || !fresh(st.At, p.WetnessAt) {
			continue
		}
		ripe := p.DryDays / float64(cell.LowDays)
		if ripe >= 1 && p.Phase == garden.Rest && !safeMorning(st, p, above) {
			ripe = 0.9
		}
		level := 1
		if 2*p.Wetness < cell.Low {
			level = 2
		}
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: ripe, Level: level, Pause: restPause,
			Facts: alerts.Facts{Amount: dose(p, cell), Wet: p.Wetness, Low: float64(cell.Low), Guess: true, Clay: p.Pot.Clay}})
	}
}

// restPause is how long a place is left alone after a message about water in rest: pots that dry within these days were named with it
// (a guess).
const restPause = 7*24*time.Hour - pauseSlack

// safeMorning: the pot is warm enough to drink and no frost is expected on the next two nights where it stands.
func safeMorning(st *alerts.Standing, p *alerts.PotStanding, above units.MilliCelsius) bool {
	if p.TempAt.IsZero() || !fresh(st.At, p.TempAt) || p.Temp <= above {
		return false
	}
	for i := range st.Places {
		if st.Places[i].Place.ID == p.Place {
			return st.Places[i].FrostKnown && !st.Places[i].FrostAhead
		}
	}
	return false
}

// dose is what brings the pot to the row's target.
func dose(p *alerts.PotStanding, cell *garden.Cell) units.Volume { return doseAt(p, cell, p.Wetness) }

// doseAt is what brings a pot from a wetness to the row's target, to the next 10 mL. Drained-full is taken as 0.34 of the pot's
// volume, the middle of what mineral mixes hold (a working value).
func doseAt(p *alerts.PotStanding, cell *garden.Cell, wet units.PerMilleFull) units.Volume {
	litres := p.Pot.Litres
	if litres == 0 {
		litres = 3000
	}
	ml := int64(litres) * 34 * int64(cell.Target-wet) / 100_000
	return units.Volume(max((ml+5)/10*10, 10))
}

func fresh(now, at time.Time) bool { return now.Sub(at) <= 2*time.Hour }
