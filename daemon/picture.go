package daemon

import (
	"context"
	"slices"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/curve"
)

// pictureDays is how much of the past a message's curve shows.
const pictureDays = 28

// picture draws the last weeks of the first pot a message names, as an SVG file: its temperature from low to high, and its water.
// A message without a pot, or a pot without a past, has no picture.
func (d *Daemon) picture(_ context.Context, key string) (name string, data []byte, err error) {
	st := d.Standing()
	i := slices.IndexFunc(st.Recent, func(c alerts.Change) bool { return c.Key == key })
	if i < 0 || len(st.Recent[i].Pots) == 0 {
		return "", nil, nil
	}
	pot := st.Recent[i].Pots[0]
	k := slices.IndexFunc(st.Pots, func(p alerts.PotStanding) bool { return p.Pot.ID == pot })
	if k < 0 {
		return "", nil, nil
	}
	days := st.Pots[k].History
	days = days[max(0, len(days)-pictureDays):]
	if len(days) < 2 {
		return "", nil, nil
	}
	return pot + ".svg", []byte(potSheet(st, pot, days).Picture(pot + " at " + st.Garden.Site.Name)), nil
}

func potSheet(st *alerts.Standing, pot string, days []alerts.DayPoint) *curve.Sheet {
	noon := func(p alerts.DayPoint) int64 { return st.Cal.Start(p.Day).Add(12 * time.Hour).Unix() }
	s := &curve.Sheet{Cal: st.Cal, Window: curve.Window{From: st.Cal.Start(days[0].Day).Unix(), Until: st.Cal.Start(days[len(days)-1].Day + 1).Unix()}}
	var bands []curve.Band
	var wet []curve.Point
	low, high := int64(0), int64(10_000)
	for _, p := range days {
		if p.TempOK {
			bands = append(bands, curve.Band{At: noon(p), Low: int64(p.Min), High: int64(p.Max)})
			low, high = min(low, int64(p.Min)-1000), max(high, int64(p.Max)+1000)
		}
		if p.WetOK {
			wet = append(wet, curve.Point{At: noon(p), V: int64(p.Wet)})
		}
	}
	w := s.Window
	w.Low, w.High, w.Gap = low, high, 2*86_400
	area, lows, highs := curve.Ribbon(bands, w)
	s.Charts = append(s.Charts, curve.Chart{ID: "temperature", Title: pot + ": coldest to warmest of each day", About: "The pot's temperature day by day.",
		Scale: curve.Scale{Unit: "°C", Div: 1000, Digits: 1}, Low: low, High: high,
		Curves: []curve.Curve{{Kind: curve.AirRibbon, D: area}, {Kind: curve.AirLow, Name: "coldest", D: lows}, {Kind: curve.AirHigh, Name: "warmest", D: highs}}})
	w.Low, w.High = 0, 1000
	s.Charts = append(s.Charts, curve.Chart{ID: "water", Title: pot + ": water left, of drained-full", About: "The pot's water day by day.",
		Scale: curve.Scale{Unit: "%", Div: 10}, Low: 0, High: 1000,
		Curves: []curve.Curve{{Kind: curve.WetLine, Name: "water", D: curve.Line(slices.Values(wet), w)}}})
	return s
}
