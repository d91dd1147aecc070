package dashboards

import (
	"context"
	"fmt"
	"time"

	"lathwatch/dashboards/curve"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// Forcing to the first nose by class, °C·d above 5 °C on pot temperature after "enough": growers' first guesses, give or take half.
var classForcing = []struct {
	name      string
	low, high float64
}{{"early", 40, 90}, {"middle", 120, 230}, {"late", 280, 450}}

// sums draws degree-days, the cold account and forcing of the season, of the chosen pot where there is one.
func (ws *winterSheet) sums(ctx context.Context) error {
	first := ws.cal.SeasonStart(ws.q.Season)
	until := min(ws.st.Day, ws.cal.SeasonStart(ws.q.Season+1), ws.cal.DateOf(ws.q.Until.Add(-time.Second))+1)
	days, whose := within(ws.all, first, until), ws.placeNamed(ws.q.Place)
	start := time.Time{}
	if ws.q.Pot != "" {
		own, is, err := ws.p.potAir(ctx, ws.st.Garden, ws.cal, ws.q.Pot, ws.q.Place, first, until)
		if err != nil {
			return err
		}
		days, whose = own, "pot "+ws.q.Pot
		if !is {
			whose += " by the air"
		}
		if ps := potOf(ws.st, ws.q.Pot); ps != nil && ws.q.Season == ws.st.Season {
			start = ps.ColdStart
		}
	}
	pts := seasonSums(ws.cal, ws.q.Season, days, until, start)
	var laid []sumPoint
	if ws.q.With > 0 { // aligned by season-day, up to the same day of the plants' year
		laid = seasonSums(ws.cal, ws.q.Season, ws.laid(ws.q.With), ws.cal.DateOf(ws.q.Until.Add(-time.Second))+1, time.Time{})
	}
	ws.sumChart("degree-days", "Degree-days above "+ws.base()+", "+whose, ws.sumScale(), curve.SumLine, pts, laid, func(p *sumPoint) [2]float64 { return p.DegreeDays }, nil, nil)
	ws.sumChart("cold", "Cold account, "+whose, curve.Scale{Unit: "credit days", Div: 1000}, curve.ColdLine, pts, laid, func(p *sumPoint) [2]float64 { return p.Cold },
		[]curve.Level{{V: int64(indices.DefaultCold.Enough * 1000), Label: "enough for most, a guess"}, {V: int64(indices.DefaultCold.Plenty * 1000), Label: "plenty, a guess"}}, nil)
	var zones []curve.Zone
	for _, c := range classForcing {
		zones = append(zones, curve.Zone{Low: int64(c.low * 1000), High: int64(c.high * 1000), Label: c.name + " risers, a guess"})
	}
	ws.sumChart("forcing", "Warmth since enough cold, "+whose, ws.sumScale(), curve.ForceLine, pts, laid, func(p *sumPoint) [2]float64 { return p.Forcing }, nil, zones)
	return nil
}

func (ws *winterSheet) base() string {
	if ws.fahr {
		return "41" + nbsp + "°F"
	}
	return "5" + nbsp + "°C"
}

// shortSum names a sum in the reading bar.
var shortSum = map[string]string{"degree-days": "degree-days", "cold": "cold", "forcing": "warmth since cold"}

var sumHow = map[string]string{
	"degree-days": "Summed from each day since the season's first, as an interval where hours are missing. Days kept only by their extremes count by a single sine.",
	"cold":        "One credit for a day with a mean of 5 °C or colder, falling to none at 8 °C; frozen days count in full. The bounds of 60 and 90 are a guess.",
	"forcing":     "Forcing: degree-days since the cold account reached enough. The classes' ranges are first guesses, give or take half.",
}

// sumChart draws one sum with what it may be where readings are missing.
func (ws *winterSheet) sumChart(id, title string, scale curve.Scale, kind curve.Kind, pts, laid []sumPoint, of func(*sumPoint) [2]float64, levels []curve.Level, zones []curve.Zone) {
	c := curve.Chart{ID: id, Title: title, Scale: scale, Levels: levels, Zones: zones, Spans: ws.breakSpan(id)}
	bands := func(pts []sumPoint) (out []curve.Band) {
		for i := range pts {
			v := of(&pts[i])
			out = append(out, curve.Band{At: ws.cal.Start(pts[i].Date + 1).Unix(), Low: int64(v[0] * 1000), High: int64(v[1] * 1000)})
		}
		return out
	}
	mine, other := bands(pts), bands(laid)
	top := int64(10_000)
	for _, b := range append(mine[:len(mine):len(mine)], other...) {
		if b.At >= ws.sheet.Window.From && b.At < ws.sheet.Window.Until {
			top = max(top, b.High)
		}
	}
	for _, l := range levels {
		if top*2 > l.V {
			top = max(top, l.V+l.V/12)
		}
	}
	c.Low, c.High, c.Lines = scale.Fit(0, top)
	w := ws.sheet.Window
	w.Low, w.High = c.Low, c.High
	area, low, _ := curve.Ribbon(mine, w)
	f := figure{How: sumHow[id], Key: []keyView{key(kind, "known"), key(curve.SumBand, "at most, where readings are missing")}}
	if len(laid) > 0 {
		_, l, _ := curve.Ribbon(other, w)
		c.Curves = append(c.Curves, curve.Curve{Kind: curve.WithLine, Name: shortSum[id] + ", " + ws.winterName(ws.q.With), D: l})
		f.Key = append(f.Key, key(curve.WithLine, ws.winterName(ws.q.With)))
	}
	name := shortSum[id] // the reading bar has little room; it names the winter only where two lie over each other
	if ws.q.With != 0 {
		name += ", " + ws.winterName(ws.q.Season)
	}
	c.Curves = append(c.Curves, curve.Curve{Kind: curve.SumBand, D: area}, curve.Curve{Kind: kind, Name: name, D: low})
	if n := len(pts); n > 0 {
		c.About = fmt.Sprintf("%s %s on %s.", sumText(of(&pts[n-1]), scale), scale.Unit, ws.plainDate(pts[n-1].Date))
	} else {
		c.About = "No readings in this winter."
	}
	f.Head, f.Rows = ws.sumTable(title[:indexOf(title, ',')], pts, laid, of, scale)
	ws.add(c, f)
}

func indexOf(s string, c byte) int {
	for i := range len(s) {
		if s[i] == c {
			return i
		}
	}
	return len(s)
}

// breakSpan is the window in which the chosen pot's nose is expected, drawn over its forcing.
func (ws *winterSheet) breakSpan(id string) []curve.Span {
	ps := potOf(ws.st, ws.q.Pot)
	if id != "forcing" || ps == nil || ws.q.Season != ws.st.Season || ps.Break == ([2]garden.Date{}) {
		return nil
	}
	label := "nose expected"
	if ps.BreakHow != "" {
		label += ", " + ps.BreakHow
	}
	return []curve.Span{{From: ws.cal.Start(ps.Break[0]).Unix(), Until: ws.cal.Start(ps.Break[1] + 1).Unix(), Label: label}}
}
