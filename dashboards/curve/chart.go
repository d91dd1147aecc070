package curve

import (
	"fmt"
	"html"
	"strings"

	"lathwatch/sensors/garden"
)

// A Chart is one drawing over the sheet's time axis. It has one value axis and never a second.
type Chart struct {
	ID, Title string
	About     string // the whole in a sentence, for those who do not see it
	Scale     Scale
	Low, High int64 // values at the foot and the head
	Lines     []int64
	Curves    []Curve
	Spells    []Spell
	Spans     []Span
	Zones     []Zone
	Levels    []Level
	Marks     []Mark
}

// A Curve is path data of a kind. Line kinds are read out under Name; areas need none.
type Curve struct {
	Kind Kind
	Name string
	D    string
}

// A Span is a stretch of time of full height: a window in which something is expected, or a pot frozen.
type Span struct {
	From, Until int64
	Label       string
	Hatched     bool // frozen: the reading says nothing
}

// A Zone is a range of values across the whole chart.
type Zone struct {
	Low, High int64
	Label     string
}

// A Level is a value worth a line.
type Level struct {
	V     int64
	Label string
}

// A Mark is something that happened at an instant.
type Mark struct {
	At    int64
	Label string // a letter or two over the mark
	Text  string // the whole, shown on pointing
}

// window is the sheet's window with this chart's values.
func (c *Chart) window(w Window) Window {
	w.Low, w.High = c.Low, c.High
	return w
}

// draw writes the chart as one svg element without a view box: places are in per cent, so that it fits any width while its text
// and hatching keep their size; the curves lie in an inner svg that stretches.
func (c *Chart) draw(b *strings.Builder, w Window, cal garden.Calendar, attrs string) {
	w = c.window(w)
	fmt.Fprintf(b, `<svg class="chart" %s role="img" aria-label="%s">`, attrs, html.EscapeString(c.about()))
	b.WriteByte('\n')
	c.drawZones(b, w)
	c.drawSpells(b, w, cal)
	c.drawSpans(b, w)
	c.drawGrid(b, w, cal)
	fmt.Fprintf(b, `<svg class="curves" viewBox="0 0 %d %d" preserveAspectRatio="none" width="100%%" height="100%%">`, w.Width(), int64(Height))
	for _, cv := range c.Curves {
		if cv.D != "" {
			fmt.Fprintf(b, "\n"+`<path class="k %s"%s d="%s"/>`, cv.Kind.Class(), named(cv), cv.D)
		}
	}
	b.WriteString("</svg>\n")
	c.drawLevels(b, w)
	c.drawMarks(b, w)
	c.drawNumbers(b, w)
	b.WriteString(`<line class="hair" x1="0" x2="0" y1="0" y2="100%"/></svg>`)
}

func (c *Chart) about() string {
	if c.About != "" {
		return c.Title + ". " + c.About
	}
	return c.Title
}

func named(c Curve) string {
	if c.Name == "" {
		return ""
	}
	return ` data-name="` + html.EscapeString(c.Name) + `"`
}

func (c *Chart) drawZones(b *strings.Builder, w Window) {
	for _, z := range c.Zones {
		top, foot := w.down(min(z.High, w.High)), w.down(max(z.Low, w.Low))
		if foot <= top {
			continue
		}
		fmt.Fprintf(b, `<rect class="k-class" x="0" width="100%%" y="%.2f%%" height="%.2f%%"/>`, top, foot-top)
		fmt.Fprintf(b, `<text class="zone" x="100%%" dx="-4" y="%.2f%%" dy="-3" text-anchor="end">%s</text>`+"\n", foot, html.EscapeString(z.Label))
	}
}

func (c *Chart) drawSpells(b *strings.Builder, w Window, cal garden.Calendar) {
	span := int(w.Until-w.From) / secondsADay
	for _, s := range c.Spells {
		from, until := max(cal.Start(s.First).Unix(), w.From), min(cal.Start(s.Last+1).Unix(), w.Until)
		if until <= from {
			continue
		}
		class := [...]string{Freezing: "freezing", Warm: "warm"}[s.Kind]
		fmt.Fprintf(b, `<rect class="%s" x="%.2f%%" width="%.2f%%" y="0" height="100%%"/>`+"\n", class, w.across(from), w.across(until)-w.across(from))
	}
	for _, kind := range []SpellKind{Freezing, Warm} {
		y, dy, class := "0", "1.1em", "freezing-n"
		if kind == Warm {
			y, dy, class = "100%", "-1.5em", "warm-n"
		}
		for _, s := range Labelled(c.Spells, kind, max(span/9, 1)) {
			mid := (cal.Start(s.First).Unix() + cal.Start(s.Last+1).Unix()) / 2
			if w.holds(mid) && w.across(mid) > 7 && w.across(mid) < 96 {
				fmt.Fprintf(b, `<text class="%s" x="%.2f%%" y="%s" dy="%s" text-anchor="middle">%s</text>`+"\n", class, w.across(mid), y, dy, c.Scale.write(s.Extreme))
			}
		}
	}
}

func (c *Chart) drawSpans(b *strings.Builder, w Window) {
	for _, s := range c.Spans {
		from, until := max(s.From, w.From), min(s.Until, w.Until)
		if until <= from {
			continue
		}
		class := "span"
		if s.Hatched {
			class = "freezing"
		}
		fmt.Fprintf(b, `<rect class="%s" x="%.2f%%" width="%.2f%%" y="0" height="100%%"/>`, class, w.across(from), w.across(until)-w.across(from))
		if s.Label != "" {
			x, dx, anchor := w.across(from), 3, "start"
			if x+letterWide*float64(len(s.Label)) > 100 {
				x, dx, anchor = w.across(until), -3, "end"
			}
			fmt.Fprintf(b, `<text class="span-n" x="%.2f%%" y="0" dy="1.1em" dx="%d" text-anchor="%s">%s</text>`, x, dx, anchor, html.EscapeString(s.Label))
		}
		b.WriteByte('\n')
	}
}

func (c *Chart) drawGrid(b *strings.Builder, w Window, cal garden.Calendar) {
	for _, t := range timeTicks(w, cal) {
		class := "grid"
		if t.minor {
			class = "grid minor"
		}
		x := w.across(t.at)
		fmt.Fprintf(b, `<line class="%s" x1="%.2f%%" x2="%.2f%%" y1="0" y2="100%%"/>`, class, x, x)
		if t.label != "" && x < 94 {
			fmt.Fprintf(b, `<text class="tick" x="%.2f%%" dx="3" y="100%%" dy="-4">%s</text>`, x, t.label)
		}
		b.WriteByte('\n')
	}
	for _, v := range c.Lines {
		class := "grid"
		if v == 0 && c.Scale.Div == 1000 && c.Scale.Add == 0 || c.Scale.Add == 32 && c.Scale.Of(v) == 32 {
			class = "grid nought"
		}
		fmt.Fprintf(b, `<line class="%s" x1="0" x2="100%%" y1="%.2f%%" y2="%.2f%%"/>`+"\n", class, w.down(v), w.down(v))
	}
}

// drawNumbers writes the value axis over everything, inside the chart.
func (c *Chart) drawNumbers(b *strings.Builder, w Window) {
	for i, v := range c.Lines {
		y := w.down(v)
		if y < 3 || y > 97 {
			continue
		}
		unit := ""
		if i == len(c.Lines)-1 || w.down(c.Lines[i+1]) < 3 {
			unit = " " + c.Scale.Unit
		}
		fmt.Fprintf(b, `<text class="value" x="2" y="%.2f%%" dy=".32em">%s%s</text>`+"\n", y, c.Scale.round(v), unit)
	}
}

func (c *Chart) drawLevels(b *strings.Builder, w Window) {
	for _, l := range c.Levels {
		if l.V < w.Low || l.V > w.High {
			continue
		}
		y := w.down(l.V)
		fmt.Fprintf(b, `<line class="k %s" x1="0" x2="100%%" y1="%.2f%%" y2="%.2f%%"/>`, LimitLine.Class(), y, y)
		fmt.Fprintf(b, `<text class="level" x="100%%" dx="-4" y="%.2f%%" dy="-3" text-anchor="end">%s</text>`+"\n", y, html.EscapeString(l.Label))
	}
}

// letterWide is what a letter of a label takes on a phone, and markEdge how near the edge a label is set inwards, in per cent of the
// width.
const (
	letterWide = 1.9
	markEdge   = 9
)

func (c *Chart) drawMarks(b *strings.Builder, w Window) {
	free := -100.0 // where the last label ended: labels keep apart, marks need not
	for _, m := range c.Marks {
		if !w.holds(m.At) {
			continue
		}
		label, anchor := "", "middle"
		x := w.across(m.At)
		wide := letterWide * float64(len(m.Label))
		from := x - wide/2
		switch { // a word at the edge stays inside
		case x < markEdge:
			anchor, from = "start", x
		case x > 100-markEdge:
			anchor, from = "end", x-wide
		}
		if from > free {
			label, free = m.Label, from+wide+1
		}
		fmt.Fprintf(b, `<svg class="mark" x="%.2f%%" y="0" overflow="visible"><title>%s</title><line x1="0" x2="0" y1="16" y2="2000" class="stem"/><path d="M-5 16h10l-5 8z"/><text y="13" text-anchor="%s">%s</text></svg>`+"\n",
			x, html.EscapeString(m.Text), anchor, html.EscapeString(label))
	}
}

// write is a value with the scale's digits and a true minus.
func (s Scale) write(v int64) string { return minus(fmt.Sprintf("%.*f", s.Digits, s.Of(v))) }

// round is a grid value without needless digits.
func (s Scale) round(v int64) string {
	return minus(strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", s.Of(v)), "0"), "."))
}

func minus(t string) string {
	if rest, ok := strings.CutPrefix(t, "-"); ok {
		if strings.Trim(rest, "0.") == "" {
			return rest
		}
		return "−" + rest
	}
	return t
}
