package review

import (
	"fmt"
	"slices"

	"lathwatch/dashboards/curve"
	"lathwatch/sensors/garden"
)

// wetMost is how many pots' water is drawn.
const wetMost = 4

// wetPots are the pots whose water is drawn: in order, one of each regime in turn.
func (r *Report) wetPots() []*Pot {
	var regimes []string
	byRegime := map[string][]*Pot{}
	for _, p := range r.pots() {
		if !slices.ContainsFunc(p.Days, func(d PotDay) bool { return d.WetOK }) {
			continue
		}
		if byRegime[p.Regime] == nil {
			regimes = append(regimes, p.Regime)
		}
		byRegime[p.Regime] = append(byRegime[p.Regime], p)
	}
	var out []*Pot
	for k := 0; len(out) < wetMost; k++ {
		n := len(out)
		for _, name := range regimes {
			if of := byRegime[name]; k < len(of) && len(out) < wetMost {
				out = append(out, of[k])
			}
		}
		if len(out) == n {
			break
		}
	}
	return out
}

func (r *Report) wetChart(s *curve.Sheet, p *Pot) curve.Chart {
	c := curve.Chart{ID: "water-" + p.ID, Title: "Water in " + p.ID + " (" + p.Regime + ")", Scale: curve.Scale{Unit: "%", Div: 10}}
	c.Low, c.High, c.Lines = c.Scale.Fit(0, 1000)
	win := s.Window
	win.Low, win.High = c.Low, c.High
	var bands []curve.Band
	var frozen garden.Date
	for i := range p.Days {
		d := &p.Days[i]
		if d.WetOK && !d.Frozen {
			bands = append(bands, curve.Band{At: curve.Noon(s.Cal, d.Date), Low: d.WetLow, High: d.WetHigh})
		}
		if d.Frozen && frozen == 0 {
			frozen = d.Date
		}
		if frozen != 0 && (!d.Frozen || i == len(p.Days)-1) {
			c.Spans = append(c.Spans, curve.Span{From: s.Cal.Start(frozen).Unix(), Until: s.Cal.Start(d.Date).Unix(), Hatched: true})
			frozen = 0
		}
	}
	area, low, _ := curve.Ribbon(bands, win)
	c.Curves = []curve.Curve{{Kind: curve.SumBand, D: area}, {Kind: curve.WetLine, Name: "water", D: low}}
	if reg := garden.RegimeNamed(p.Regime); reg != nil && reg.Rest.Low > 0 {
		c.Levels = []curve.Level{{V: int64(reg.Rest.Low), Label: "dry limit at rest (a guess)"}}
	}
	for _, w := range p.Waterings {
		c.Marks = append(c.Marks, curve.Mark{At: w.At.Unix(), Text: fmt.Sprintf("watered %d mL on %s, %s", w.ML, on(s.Cal.DateOf(w.At)), w.Judged)})
	}
	c.About = fmt.Sprintf("%.0f judged days, %.0f of the rest under the dry limit, %s.", p.JudgedDays, p.DryDays, times(len(p.Waterings), "watering"))
	return c
}

func nights(n int) string { return times(n, "night") }

func times(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
