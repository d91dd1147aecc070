package dashboards

import (
	"context"
	"fmt"
	"html/template"
	"iter"
	"time"

	"lathwatch/dashboards/curve"
	"lathwatch/sensors/garden"
)

// air draws the place's air: each day's range, or the readings themselves where the span is short; beside it another place and
// other winters. Spells are always those of the days, so that every page counts the same ones.
func (ws *winterSheet) air(ctx context.Context) error {
	place := ws.st.Garden.Place(ws.q.Place)
	c := curve.Chart{ID: "air", Scale: ws.degScale(), Title: "Air"}
	if place != nil {
		c.Title = "Air, " + placeName(place)
	}
	days := ws.shown(ws.all)
	c.Spells = curve.Spells(airDays(days))
	c.About = airSummary(ws.bench, days)
	f := figure{How: "Freezing: days that fell under 0 °C. Warm: three or more days with a mean of 8 °C or over, which count nothing towards the rest (a guess)."}
	if ws.fahr {
		f.How = "Freezing: days that fell under 32 °F. Warm: three or more days with a mean of 46.4 °F or over, which count nothing towards the rest (a guess)."
	}
	beside, err := ws.besideDays(ctx)
	if err != nil {
		return err
	}
	near, nearBeside, err := ws.readings(ctx)
	if err != nil {
		return err
	}
	var laid [][]Day
	for _, s := range ws.laidSeasons() {
		laid = append(laid, ws.shown(ws.laid(s)))
	}
	low, high, any := span(append(laid, days, beside)...)
	for _, pt := range append(near[:len(near):len(near)], nearBeside...) {
		low, high, any = min(low, pt.V), max(high, pt.V), true
	}
	if !any {
		low, high = -5000, 15_000
	}
	c.Low, c.High, c.Lines = c.Scale.Fit(low, high)
	w := ws.sheet.Window
	w.Low, w.High = c.Low, c.High
	f.Key = ws.airCurves(&c, w, days, beside, near, nearBeside, laid)
	f.Head, f.Rows = ws.airTable(days)
	ws.add(c, f)
	return nil
}

// airCurves fills the chart, furthest first, and gives its key.
func (ws *winterSheet) airCurves(c *curve.Chart, w curve.Window, days, beside []Day, near, nearBeside []curve.Point, laid [][]Day) []keyView {
	lows := func(days []Day) string {
		_, low, _ := curve.Ribbon(bandsOf(ws.cal, days, func(d *Day) (int64, int64) { return d.Min, d.Min }), w)
		return low
	}
	var keys []keyView
	for i, s := range ws.laidSeasons() {
		if ws.q.With < 0 {
			c.Curves = append(c.Curves, curve.Curve{Kind: curve.PastLow, D: lows(laid[i])})
			continue
		}
		c.Curves = append(c.Curves, curve.Curve{Kind: curve.WithLow, Name: ws.winterName(s) + ", low", D: lows(laid[i])})
		keys = append(keys, key(curve.WithLow, "night low, "+ws.winterName(s)))
	}
	if ws.q.With < 0 {
		keys = append(keys, key(curve.PastLow, "night lows, other winters"))
	}
	if len(near) > 0 {
		g := w
		g.Gap = ws.readingGap()
		c.Curves = append(c.Curves, curve.Curve{Kind: curve.AirTrue, Name: "air", D: curve.Line(points(near), g)})
		keys = append(keys, key(curve.AirTrue, "air"))
		if ws.q.Beside != "" {
			c.Curves = append(c.Curves, curve.Curve{Kind: curve.BesideLow, Name: ws.placeNamed(ws.q.Beside), D: curve.Line(points(nearBeside), g)})
			keys = append(keys, key(curve.BesideLow, ws.placeNamed(ws.q.Beside)))
		}
	} else {
		area, low, high := curve.Ribbon(bandsOf(ws.cal, days, func(d *Day) (int64, int64) { return d.Min, d.Max }), w)
		c.Curves = append(c.Curves, curve.Curve{Kind: curve.AirRibbon, D: area}, curve.Curve{Kind: curve.AirHigh, Name: "day high", D: high})
		if ws.q.Beside != "" {
			c.Curves = append(c.Curves, curve.Curve{Kind: curve.BesideLow, Name: ws.placeNamed(ws.q.Beside) + ", low", D: lows(beside)})
			keys = append(keys, key(curve.BesideLow, "night low, "+ws.placeNamed(ws.q.Beside)))
		}
		c.Curves = append(c.Curves, curve.Curve{Kind: curve.AirLow, Name: "night low", D: low})
		keys = append([]keyView{key(curve.AirLow, "night low"), key(curve.AirHigh, "day high")}, keys...)
	}
	return append(keys, keyView{template.HTML(curve.SpellSwatch(curve.Freezing)), "freezing, lowest above"}, keyView{template.HTML(curve.SpellSwatch(curve.Warm)), "warm, mean below"})
}

func (ws *winterSheet) besideDays(ctx context.Context) ([]Day, error) {
	if ws.q.Beside == "" {
		return nil, nil
	}
	return ws.p.placeDays(ctx, ws.st.Garden, ws.cal, ws.q.Beside, ws.cal.DateOf(ws.q.From), ws.cal.DateOf(ws.q.Until)+1)
}

// laidSeasons lists the winters laid over this one.
func (ws *winterSheet) laidSeasons() []int {
	if ws.q.With > 0 {
		return []int{ws.q.With}
	}
	if ws.q.With == 0 {
		return nil
	}
	var out []int
	for _, s := range ws.seasons() {
		if s != ws.q.Season {
			out = append(out, s)
		}
	}
	return out
}

// readings reads the air itself where the span is short: never more than four weeks of it.
func (ws *winterSheet) readings(ctx context.Context) (here, beside []curve.Point, err error) {
	if !ws.q.near() {
		return nil, nil, nil
	}
	if here, err = ws.airReadings(ctx, ws.q.Place); err != nil || ws.q.Beside == "" {
		return here, nil, err
	}
	beside, err = ws.airReadings(ctx, ws.q.Beside)
	return here, beside, err
}

func (ws *winterSheet) airReadings(ctx context.Context, place string) ([]curve.Point, error) {
	var out []curve.Point
	for _, pr := range airProbes(ws.st.Garden, place) {
		for r, err := range ws.p.cfg.Curves.Readings(ctx, pr.ID, ws.q.From, ws.q.Until) {
			if err != nil {
				return nil, fmt.Errorf("reading %s: %w", pr.ID, err)
			}
			out = append(out, curve.Point{At: r.At.Unix(), V: r.Value + offsetAt(pr, r.At)})
		}
		if len(out) > 0 {
			return out, nil // the first thermometer of the place that has any speaks for it
		}
	}
	return out, nil
}

// readingGap is the silence that breaks a line of readings: three times the usual spacing of the place's thermometer.
func (ws *winterSheet) readingGap() int64 {
	gap := 30 * time.Minute
	for i := range ws.st.Probes {
		if p := &ws.st.Probes[i]; p.Probe.Place == ws.q.Place && p.Probe.Measures == garden.AirTemperature {
			gap = max(gap, 3*p.Spacing, 3*p.Probe.Every)
		}
	}
	return int64(gap / time.Second)
}

func points(ps []curve.Point) iter.Seq[curve.Point] {
	return func(yield func(curve.Point) bool) {
		for _, p := range ps {
			if !yield(p) {
				return
			}
		}
	}
}

func bandsOf(cal garden.Calendar, days []Day, of func(*Day) (low, high int64)) []curve.Band {
	bands := make([]curve.Band, 0, len(days))
	for i := range days {
		low, high := of(&days[i])
		bands = append(bands, curve.Band{At: curve.Noon(cal, days[i].Date), Low: low, High: high})
	}
	return bands
}

// span is the lowest and highest of all days given.
func span(sets ...[]Day) (low, high int64, any bool) {
	for _, days := range sets {
		for i := range days {
			d := &days[i]
			if !any {
				low, high, any = d.Min, d.Max, true
			}
			low, high = min(low, d.Min), max(high, d.Max)
		}
	}
	return low, high, any
}
