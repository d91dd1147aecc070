package review

import (
	"image/color"
	"math"
	"strings"
	"time"

	"lathwatch/dashboards/curve"
)

// A field is a chart's place on the page.
type field struct {
	p          *painter
	s          *curve.Sheet
	c          *curve.Chart
	x, y, w, h float64
}

func (f *field) across(at int64) float64 {
	w := f.s.Window
	return f.x + f.w*math.Min(math.Max(float64(at-w.From)/float64(w.Until-w.From), 0), 1)
}

func (f *field) down(v int64) float64 {
	return f.y + f.h*math.Min(math.Max(float64(f.c.High-v)/float64(f.c.High-f.c.Low), 0), 1)
}

func (f *field) spells() {
	for _, s := range f.c.Spells {
		a, b := f.across(f.s.Cal.Start(s.First).Unix()), f.across(f.s.Cal.Start(s.Last+1).Unix())
		if b-a < 0.5 {
			continue
		}
		if s.Kind == curve.Freezing {
			f.hatch(a, b)
		} else {
			f.dots(a, b)
		}
	}
	for _, s := range f.c.Spans {
		f.hatch(f.across(s.From), f.across(s.Until))
	}
}

func (f *field) hatch(a, b float64) {
	for at := a - f.h; at < b; at += 9 {
		x0, x1 := math.Max(at, a), math.Min(at+f.h, b)
		if x1 > x0 {
			f.p.line([]spot{{x0, f.y + f.h - (x0 - at)}, {x1, f.y + f.h - (x1 - at)}}, 0.8, thin(inkFrost, 0.6))
		}
	}
}

func (f *field) dots(a, b float64) {
	for y := f.y + 5; y < f.y+f.h; y += 9 {
		for x := a + 4; x < b; x += 9 {
			f.p.rect(x-1, y-1, 2.2, 2.2, inkWarm)
		}
	}
}

func (f *field) grid() {
	for _, v := range f.c.Lines {
		ink, width := color.Color(inkRule), 1.0
		if v == 0 && f.c.Low < 0 {
			ink, width = inkFrost, 1.2
		}
		f.p.line([]spot{{f.x, f.down(v)}, {f.x + f.w, f.down(v)}}, width, ink)
	}
	w := f.s.Window
	for t := time.Unix(w.From, 0).In(f.s.Cal.Zone); ; {
		t = time.Date(t.Year(), t.Month()+1, 1, 0, 0, 0, 0, f.s.Cal.Zone)
		if t.Unix() >= w.Until {
			return
		}
		x := f.across(t.Unix())
		f.p.line([]spot{{x, f.y}, {x, f.y + f.h}}, 1, inkRule)
		if label := t.Format("Jan"); x < f.x+f.w-40 {
			f.p.put(x+4, f.y+f.h-4, label, pen{size: 13, ink: inkQuiet})
		}
	}
}

func (f *field) curve(cv curve.Curve) {
	st := strokeOf(cv.Kind)
	lines, closed := tracks(cv.D)
	for _, l := range lines {
		ps := make([]spot, len(l))
		for i, q := range l {
			ps[i] = spot{f.x + f.w*q.x/float64(f.s.Window.Width()), f.y + f.h*q.y/curve.Height}
		}
		if st.width == 0 {
			if closed {
				f.p.fill(ps, st.ink)
			}
			continue
		}
		f.p.line(ps, st.width, st.ink)
	}
}

func (f *field) levels() {
	for _, l := range f.c.Levels {
		if l.V < f.c.Low || l.V > f.c.High {
			continue
		}
		y := f.down(l.V)
		f.p.dashed(spot{f.x, y}, spot{f.x + f.w, y}, 5, 5, 1.5, inkClay)
		f.p.put(f.x+f.w-4, y-4, l.Label, pen{size: 13, right: true, ink: inkQuiet})
	}
}

func (f *field) marks() {
	w := f.s.Window
	for _, m := range f.c.Marks {
		if m.At < w.From || m.At >= w.Until {
			continue
		}
		x := f.across(m.At)
		f.p.fill([]spot{{x - 6, f.y + 1}, {x + 6, f.y + 1}, {x, f.y + 11}}, inkFrost)
		f.p.dashed(spot{x, f.y + 11}, spot{x, f.y + f.h}, 2, 4, 1, inkFrost)
	}
}

func (f *field) numbers() {
	for i, v := range f.c.Lines {
		y := f.down(v)
		if y < f.y+6 || y > f.y+f.h-6 {
			continue
		}
		unit := ""
		if i == len(f.c.Lines)-1 || f.down(f.c.Lines[i+1]) < f.y+6 {
			unit = " " + f.c.Scale.Unit
		}
		s := strings.TrimSuffix(num(f.c.Scale.Of(v), 1), ".0") + unit
		wide := f.p.measure(s, pen{size: 13})
		f.p.rect(f.x, y-8, wide+6, 16, thin(color.RGBA{255, 255, 255, 255}, 0.8))
		f.p.put(f.x+3, y+5, s, pen{size: 13, ink: inkQuiet})
	}
	f.p.line([]spot{{f.x, f.y + f.h}, {f.x + f.w, f.y + f.h}}, 1.2, inkQuiet)
}

// table paints a table when all of it fits on the rest of the page.
func (p *painter) table(t *Table) {
	const step = 19.0
	words := pen{size: 14, ink: inkBlack}
	if p.y+30+step*float64(len(t.Rows)+1) > pngHigh-pngEdge {
		return
	}
	wide := make([]float64, len(t.Head))
	total := 0.0
	for i := range wide {
		wide[i] = p.measure(t.Head[i], words)
		for _, r := range t.Rows {
			if i < len(r) {
				wide[i] = math.Max(wide[i], p.measure(r[i], words))
			}
		}
		wide[i] += 16
		total += wide[i]
	}
	if total > pngWide-2*pngEdge {
		return
	}
	p.y += 28
	p.put(pngEdge, p.y, t.Title, pen{size: 16, bold: true, ink: inkBlack})
	row := func(cells []string, ink pen) {
		p.y += step
		x := pngEdge
		for i, s := range cells {
			p.put(x, p.y, s, ink)
			x += wide[i]
		}
	}
	row(t.Head, pen{size: 14, ink: inkQuiet})
	p.line([]spot{{pngEdge, p.y + 5}, {pngEdge + total, p.y + 5}}, 1, inkRule)
	for _, r := range t.Rows {
		row(r, words)
	}
}
