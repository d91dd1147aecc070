package review

import (
	"image/color"
	"image/png"
	"io"
	"strings"

	"lathwatch/dashboards/curve"
)

// The picture is an upright A4 page at 150 dots an inch.
const (
	pngWide, pngHigh = 1240, 1754
	pngEdge          = 56.0
)

var (
	inkBlack = color.RGBA{0x0f, 0x1a, 0x15, 255}
	inkQuiet = color.RGBA{0x47, 0x56, 0x4e, 255}
	inkRule  = color.RGBA{0xc3, 0xce, 0xc8, 255}
	inkFrost = color.RGBA{0x0a, 0x5a, 0xa0, 255}
	inkWarm  = color.RGBA{0xa8, 0x52, 0x00, 255}
	inkClay  = color.RGBA{0xa8, 0x48, 0x1f, 255}
	inkSoil  = color.RGBA{0x4d, 0x3a, 0x2c, 255}
)

// thin makes a colour transparent; colours of the image package are multiplied by their alpha.
func thin(c color.RGBA, share float64) color.Color {
	return color.RGBA{uint8(float64(c.R) * share), uint8(float64(c.G) * share), uint8(float64(c.B) * share), uint8(255 * share)}
}

// A stroke is how a kind of curve is painted; width 0 is an area.
type stroke struct {
	ink   color.Color
	width float64
}

func strokeOf(k curve.Kind) stroke {
	switch k {
	case curve.AirRibbon:
		return stroke{thin(inkFrost, 0.16), 0}
	case curve.SumBand:
		return stroke{thin(inkQuiet, 0.25), 0}
	case curve.AirHigh:
		return stroke{inkWarm, 1.2}
	case curve.PastLow:
		return stroke{thin(inkQuiet, 0.7), 1}
	case curve.WetLine:
		return stroke{inkSoil, 3}
	}
	return stroke{inkFrost, 3}
}

// PNG writes the report as one picture: the sentences, the curves, and the tables that fit under them.
func (r *Report) PNG(out io.Writer) error {
	c := newCanvas(pngWide, pngHigh)
	p := painter{canvas: c, y: pngEdge}
	p.text(r.Winter.Title(), pen{size: 30, bold: true, ink: inkBlack}, 34)
	for _, l := range r.Lead() {
		p.wrapped(l, pen{size: 17, ink: inkBlack}, 23)
	}
	s := r.Sheet()
	for i := range s.Charts {
		high := 96.0
		if i < len(r.places()) {
			high = 150
		}
		p.chart(s, &s.Charts[i], high)
	}
	for _, t := range r.Tables() {
		p.table(&t)
	}
	if p.err != nil {
		return p.err
	}
	return png.Encode(out, c.img)
}

// A painter goes down the page.
type painter struct {
	*canvas
	y   float64
	err error
}

func (p *painter) put(x, y float64, s string, ink pen) float64 {
	w, err := p.write(x, y, s, ink)
	if p.err == nil {
		p.err = err
	}
	return w
}

func (p *painter) text(s string, ink pen, step float64) {
	p.y += step
	p.put(pngEdge, p.y, s, ink)
}

func (p *painter) wrapped(s string, ink pen, step float64) {
	line := ""
	for _, word := range strings.Fields(s) {
		if next := strings.TrimSpace(line + " " + word); p.measure(next, ink) <= pngWide-2*pngEdge {
			line = next
			continue
		}
		p.text(line, ink, step)
		line = word
	}
	p.text(line, ink, step)
}

// chart paints one of the sheet's charts.
func (p *painter) chart(s *curve.Sheet, c *curve.Chart, high float64) {
	p.y += 26
	p.put(pngEdge, p.y, c.Title, pen{size: 16, bold: true, ink: inkBlack})
	p.y += 8
	f := field{p: p, s: s, c: c, x: pngEdge, y: p.y, w: pngWide - 2*pngEdge, h: high}
	f.spells()
	f.grid()
	for _, cv := range c.Curves {
		f.curve(cv)
	}
	f.levels()
	f.marks()
	f.numbers()
	p.y += high
}
