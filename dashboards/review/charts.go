package review

import (
	"fmt"

	"lathwatch/dashboards/curve"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// A Report is a winter with the others kept, as it is shown: which place and pots it is about.
type Report struct {
	Winter *Winter
	Others []*Winter // oldest first
	Place  string    // "" every place
	Around []Way     // what else there is, on the page alone
}

// pots lists the pots the report is about: those whose place it is, or all. A pot belongs to every place it stood at.
func (r *Report) pots() []*Pot {
	var out []*Pot
	for i := range r.Winter.Pots {
		p := &r.Winter.Pots[i]
		if r.Place == "" || p.stoodAt(r.Place) {
			out = append(out, p)
		}
	}
	return out
}

func (p *Pot) stoodAt(place string) bool {
	if p.Place == place {
		return true
	}
	for _, m := range p.Moves {
		if m.To == place {
			return true
		}
	}
	return false
}

func (r *Report) places() []*Place {
	var out []*Place
	for i := range r.Winter.Places {
		p := &r.Winter.Places[i]
		if len(p.Days) > 0 && (r.Place == "" || p.ID == r.Place) {
			out = append(out, p)
		}
	}
	return out
}

// The rest of the plants' year that is drawn, in season days: 1 October to 31 May, shifted in the south.
const (
	drawFrom  = 30
	drawUntil = 273
)

// Sheet draws the winter's curves over one time axis.
func (r *Report) Sheet() *curve.Sheet {
	w := r.Winter
	cal := w.Cal()
	first := max(cal.SeasonStart(w.Season)+drawFrom, w.From)
	last := min(cal.SeasonStart(w.Season)+drawUntil, w.Until)
	if last <= first { // only a piece of the season is on record
		first, last = w.From, w.Until
	}
	s := &curve.Sheet{Cal: cal, Window: curve.Window{From: cal.Start(first).Unix(), Until: cal.Start(last + 1).Unix(), Cols: 480, Gap: 36 * 3600}}
	for _, p := range r.places() {
		s.Charts = append(s.Charts, r.airChart(s, p))
	}
	if c, ok := r.coldChart(s); ok {
		s.Charts = append(s.Charts, c)
	}
	for _, p := range r.wetPots() {
		s.Charts = append(s.Charts, r.wetChart(s, p))
	}
	return s
}

func (w *Winter) degScale() curve.Scale {
	if w.Fahrenheit {
		return curve.Scale{Unit: "°F", Div: 1000 / 1.8, Add: 32, Digits: 1}
	}
	return curve.Scale{Unit: "°C", Div: 1000, Digits: 1}
}

// lastWinter is the newest other winter before this one with air of a place.
func (r *Report) lastWinter(place string) (*Winter, *Place) {
	for i := len(r.Others) - 1; i >= 0; i-- {
		if o := r.Others[i]; o.Season < r.Winter.Season {
			if p := o.place(place); p != nil && len(p.Days) > 0 {
				return o, p
			}
		}
	}
	return nil, nil
}

func (r *Report) airChart(s *curve.Sheet, p *Place) curve.Chart {
	w := r.Winter
	c := curve.Chart{ID: "air-" + p.ID, Title: "Air, " + p.name(), Scale: w.degScale(), Spells: curve.Spells(p.air())}
	bands, _ := r.airBands(p.Days, 0)
	low, high := extent(bands, s.Window)
	var past []curve.Band
	if o, op := r.lastWinter(p.ID); o != nil {
		_, past = r.airBands(op.Days, s.Cal.SeasonStart(w.Season)-s.Cal.SeasonStart(o.Season))
		l, h := extent(past, s.Window)
		low, high = min(low, l), max(high, h)
		c.Title += fmt.Sprintf("; thin grey: night lows of %d", o.Season)
	}
	c.Low, c.High, c.Lines = c.Scale.Fit(low, high)
	win := s.Window
	win.Low, win.High = c.Low, c.High
	area, lo, hi := curve.Ribbon(bands, win)
	if len(past) > 0 {
		_, d, _ := curve.Ribbon(past, win)
		c.Curves = append(c.Curves, curve.Curve{Kind: curve.PastLow, D: d})
	}
	c.Curves = append(c.Curves, curve.Curve{Kind: curve.AirRibbon, D: area}, curve.Curve{Kind: curve.AirHigh, Name: "day high", D: hi}, curve.Curve{Kind: curve.AirLow, Name: "night low", D: lo})
	c.About = fmt.Sprintf("%s under freezing, lowest %s on %s.", nights(p.FrostNights), w.deg(p.Lowest.V), on(p.Lowest.At))
	return c
}

// airBands are a place's days from low to high, and its lows alone, moved by some days.
func (r *Report) airBands(days []AirDay, shift garden.Date) (bands, lows []curve.Band) {
	cal := r.Winter.Cal()
	for _, d := range days {
		at := curve.Noon(cal, d.Date+shift)
		bands = append(bands, curve.Band{At: at, Low: d.Min, High: d.Max})
		lows = append(lows, curve.Band{At: at, Low: d.Min, High: d.Min})
	}
	return bands, lows
}

func extent(bands []curve.Band, w curve.Window) (low, high int64) {
	low, high = 0, 10_000
	any := false
	for _, b := range bands {
		if b.At < w.From || b.At >= w.Until {
			continue
		}
		if !any {
			low, high, any = b.Low, b.High, true
		}
		low, high = min(low, b.Low), max(high, b.High)
	}
	return low, high
}

// coldChart draws the cold accounts of the pots: the band from least to most of all, and each way of wintering's own line where
// there are two.
func (r *Report) coldChart(s *curve.Sheet) (curve.Chart, bool) {
	c := curve.Chart{ID: "cold", Title: "Cold account of every pot, from the least to the most credited; line: at least", Scale: curve.Scale{Unit: "credit days", Div: 1000},
		Levels: []curve.Level{{V: int64(indices.DefaultCold.Enough * 1000), Label: "enough for most (a guess)"}, {V: int64(indices.DefaultCold.Plenty * 1000), Label: "plenty (a guess)"}}}
	byDay := map[garden.Date]curve.Band{}
	first, last := garden.Date(1<<30), garden.Date(0)
	for _, p := range r.pots() {
		for _, d := range p.Days {
			if d.Cold == ([2]float64{}) {
				continue
			}
			lo, hi := int64(d.Cold[0]*1000), int64(d.Cold[1]*1000)
			b, ok := byDay[d.Date]
			if !ok {
				b = curve.Band{At: s.Cal.Start(d.Date + 1).Unix(), Low: lo, High: hi}
			}
			b.Low, b.High = min(b.Low, lo), max(b.High, hi)
			byDay[d.Date] = b
			first, last = min(first, d.Date), max(last, d.Date)
		}
	}
	if last == 0 {
		return c, false
	}
	var bands []curve.Band
	top := int64(10_000)
	for d := first; d <= last; d++ {
		if b, ok := byDay[d]; ok {
			bands = append(bands, b)
			top = max(top, b.High)
		}
	}
	c.Low, c.High, c.Lines = c.Scale.Fit(0, max(top, int64(indices.DefaultCold.Enough*1100)))
	win := s.Window
	win.Low, win.High = c.Low, c.High
	area, low, _ := curve.Ribbon(bands, win)
	c.Curves = []curve.Curve{{Kind: curve.SumBand, D: area}, {Kind: curve.ColdLine, Name: "least", D: low}}
	c.About = fmt.Sprintf("At the end %s credit days.", between([2]float64{float64(bands[len(bands)-1].Low) / 1000, float64(bands[len(bands)-1].High) / 1000}, 0))
	return c, true
}
