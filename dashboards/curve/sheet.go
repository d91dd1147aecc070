package curve

import (
	"fmt"
	"html"
	"strings"

	"lathwatch/sensors/garden"
)

// A Sheet is charts one under the other over one time axis.
type Sheet struct {
	Window Window // From, Until, Cols; values are each chart's own
	Cal    garden.Calendar
	Charts []Chart
}

// patterns are the grounds of spells: hatching for frost, dots for warmth. They never stretch.
const patterns = `<defs><pattern id="hatch" patternUnits="userSpaceOnUse" width="7" height="7" patternTransform="rotate(45)"><line class="hatch" x1="0" x2="0" y1="0" y2="7"/></pattern>` +
	`<pattern id="dots" patternUnits="userSpaceOnUse" width="7" height="7"><circle class="dot" cx="3.5" cy="3.5" r="1.1"/></pattern></defs>`

// Patterns is an svg element of no size that a page with charts must hold once.
func Patterns() string {
	return `<svg class="patterns" width="0" height="0" aria-hidden="true" focusable="false">` + patterns + `</svg>`
}

// Draw gives one chart as an svg element for a page. What the page's script needs to read values out of the drawn paths stands
// in its attributes.
func (s *Sheet) Draw(i int) string {
	c := &s.Charts[i]
	var b strings.Builder
	attrs := fmt.Sprintf(`width="100%%" height="100%%" data-chart="%s" data-from="%d" data-until="%d" data-low="%g" data-high="%g" data-digits="%d" data-unit="%s"`,
		html.EscapeString(c.ID), s.Window.From, s.Window.Until, c.Scale.Of(c.Low), c.Scale.Of(c.High), c.Scale.Digits, html.EscapeString(c.Scale.Unit))
	c.draw(&b, s.Window, s.Cal, attrs)
	return b.String()
}

// Sizes of a picture, CSS pixels.
const (
	pictureWidth = 960
	chartHeight  = 220
	chartHead    = 26
	margin       = 20
)

// Picture writes the whole sheet as one SVG file with colours and words of its own, for reports, mail and keeping.
func (s *Sheet) Picture(title string) string {
	height := margin*2 + 30 + len(s.Charts)*(chartHeight+chartHead)
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d" role="img" aria-label="%s">`+"\n",
		pictureWidth, height, pictureWidth, height, html.EscapeString(title))
	b.WriteString("<style>\n" + pictureStyle() + pictureWords + "</style>\n" + patterns + "\n")
	fmt.Fprintf(&b, `<rect width="100%%" height="100%%" fill="#ffffff"/><text class="title" x="%d" y="%d">%s</text>`+"\n", margin, margin+14, html.EscapeString(title))
	y := margin + 30
	for i := range s.Charts {
		c := &s.Charts[i]
		fmt.Fprintf(&b, `<text class="head" x="%d" y="%d">%s</text>`+"\n", margin, y+16, html.EscapeString(c.Title))
		y += chartHead
		c.draw(&b, s.Window, s.Cal, fmt.Sprintf(`x="%d" y="%d" width="%d" height="%d"`, margin, y, pictureWidth-2*margin, chartHeight-14))
		b.WriteByte('\n')
		y += chartHeight
	}
	b.WriteString("</svg>\n")
	return b.String()
}

// pictureWords are the looks of everything but curves, by day.
const pictureWords = `text{font:12px system-ui,"DejaVu Sans",sans-serif;fill:#0f1a15}.title{font-size:17px;font-weight:700}.head{font-size:14px;font-weight:600}
.tick,.value{font-size:11px;fill:#47564e}.value,.tick,.freezing-n,.warm-n,.span-n,.level,.zone,.mark text{paint-order:stroke;stroke:#ffffff;stroke-width:3px}
.grid{stroke:#c3cec8;stroke-width:1}.minor{stroke-width:.5}.nought{stroke:#0a5aa0}.freezing{fill:url(#hatch)}.warm{fill:url(#dots)}.hatch{stroke:#0a5aa0;stroke-width:1}.dot{fill:#a85200}
.freezing-n{fill:#0a5aa0;font-weight:600}.warm-n{fill:#a85200;font-weight:600}.span{fill:#16714a;fill-opacity:.16}.level,.span-n,.zone{font-size:11px}.mark path{fill:#0a5aa0}.stem{stroke:#0a5aa0;stroke-dasharray:2 4}.hair{visibility:hidden}
`

// Strip draws one winter as a row: full-height blocks where it froze, low ones where it was warm. Its axis is the window's.
func Strip(w Window, cal garden.Calendar, spells []Spell, about string) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="strip" width="100%%" height="100%%" role="img" aria-label="%s">`, html.EscapeString(about))
	for _, t := range timeTicks(w, cal) {
		fmt.Fprintf(&b, `<line class="grid" x1="%.2f%%" x2="%.2f%%" y1="0" y2="100%%"/>`, w.across(t.at), w.across(t.at))
	}
	for _, s := range spells {
		from, until := max(cal.Start(s.First).Unix(), w.From), min(cal.Start(s.Last+1).Unix(), w.Until)
		if until <= from {
			continue
		}
		class, y, h := "froze", "0", "100%"
		if s.Kind == Warm {
			class, y, h = "warmed", "70%", "30%"
		}
		fmt.Fprintf(&b, `<rect class="%s" x="%.2f%%" width="%.2f%%" y="%s" height="%s"/>`, class, w.across(from), w.across(until)-w.across(from), y, h)
	}
	b.WriteString("</svg>")
	return b.String()
}

// MonthRow is the axis over strips: the labels of the window's ticks.
func MonthRow(w Window, cal garden.Calendar) string {
	var b strings.Builder
	b.WriteString(`<svg class="months" width="100%" height="100%" aria-hidden="true" focusable="false">`)
	for _, t := range timeTicks(w, cal) {
		if x := w.across(t.at); t.label != "" && x < 94 {
			fmt.Fprintf(&b, `<text class="tick" x="%.2f%%" dx="3" y="100%%" dy="-3">%s</text>`, x, t.label)
		}
	}
	b.WriteString("</svg>")
	return b.String()
}
