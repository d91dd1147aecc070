package review

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"strconv"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// A canvas paints lines, areas and words on a picture. Coordinates are pixels.
type canvas struct {
	img   *image.RGBA
	faces map[faceKey]font.Face
}

type faceKey struct {
	size float64
	bold bool
}

func newCanvas(w, h int) *canvas {
	c := &canvas{img: image.NewRGBA(image.Rect(0, 0, w, h)), faces: map[faceKey]font.Face{}}
	draw.Draw(c.img, c.img.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	return c
}

// face gives the Go fonts at a size in pixels.
func (c *canvas) face(size float64, bold bool) (font.Face, error) {
	k := faceKey{size, bold}
	if f := c.faces[k]; f != nil {
		return f, nil
	}
	ttf := goregular.TTF
	if bold {
		ttf = gobold.TTF
	}
	parsed, err := opentype.Parse(ttf)
	if err != nil {
		return nil, err
	}
	f, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
	if err == nil {
		c.faces[k] = f
	}
	return f, err
}

type pen struct {
	size  float64
	bold  bool
	right bool // the words end at x
	ink   color.Color
}

// write puts words with their baseline's left (or right) end at x, y and gives their width.
func (c *canvas) write(x, y float64, s string, p pen) (float64, error) {
	f, err := c.face(p.size, p.bold)
	if err != nil {
		return 0, err
	}
	wide := float64(font.MeasureString(f, s)) / 64
	if p.right {
		x -= wide
	}
	d := font.Drawer{Dst: c.img, Src: image.NewUniform(p.ink), Face: f, Dot: fixed.Point26_6{X: fixed.Int26_6(x * 64), Y: fixed.Int26_6(y * 64)}}
	d.DrawString(s)
	return wide, nil
}

func (c *canvas) measure(s string, p pen) float64 {
	f, err := c.face(p.size, p.bold)
	if err != nil {
		return 0
	}
	return float64(font.MeasureString(f, s)) / 64
}

type spot struct{ x, y float64 }

// fill paints a closed area.
func (c *canvas) fill(ps []spot, ink color.Color) {
	if len(ps) < 3 {
		return
	}
	c.paint([][]spot{ps}, ink)
}

// paint fills outlines together, on a raster no larger than they are.
func (c *canvas) paint(outlines [][]spot, ink color.Color) {
	box := image.Rectangle{}
	for _, ps := range outlines {
		for _, p := range ps {
			x, y := int(math.Floor(p.x)), int(math.Floor(p.y))
			box = box.Union(image.Rect(x-1, y-1, x+2, y+2))
		}
	}
	if box = box.Intersect(c.img.Bounds()); box.Empty() {
		return
	}
	r := vector.NewRasterizer(box.Dx(), box.Dy())
	at := func(p spot) (float32, float32) {
		return float32(p.x - float64(box.Min.X)), float32(p.y - float64(box.Min.Y))
	}
	for _, ps := range outlines {
		r.MoveTo(at(ps[0]))
		for _, p := range ps[1:] {
			r.LineTo(at(p))
		}
		r.ClosePath()
	}
	r.Draw(c.img, box, image.NewUniform(ink), image.Point{})
}

func (c *canvas) rect(x, y, w, h float64, ink color.Color) {
	c.fill([]spot{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}, ink)
}

// line strokes a run of points. Every piece is a bar of its own in one outline, all turned the same way, so that overlaps are
// painted once.
func (c *canvas) line(ps []spot, width float64, ink color.Color) {
	var bars [][]spot
	for i := 1; i < len(ps); i++ {
		bars = append(bars, bar(ps[i-1], ps[i], width))
	}
	if len(bars) > 0 {
		c.paint(bars, ink)
	}
}

func bar(a, b spot, width float64) []spot {
	dx, dy := b.x-a.x, b.y-a.y
	n := math.Hypot(dx, dy)
	if n == 0 {
		dx, n = 1, 1
		b.x += width / 4
		a.x -= width / 4
	}
	ux, uy := dx/n*width/2, dy/n*width/2
	ex, ey := ux*0.6, uy*0.6 // a little over the joint, so that bends have no notch
	return []spot{{a.x - ex - uy, a.y - ey + ux}, {b.x + ex - uy, b.y + ey + ux}, {b.x + ex + uy, b.y + ey - ux}, {a.x - ex + uy, a.y - ey - ux}}
}

// dashed strokes a straight line in dashes.
func (c *canvas) dashed(a, b spot, on, off, width float64, ink color.Color) {
	n := math.Hypot(b.x-a.x, b.y-a.y)
	for at := 0.0; at < n; at += on + off {
		end := math.Min(at+on, n)
		c.line([]spot{{a.x + (b.x-a.x)*at/n, a.y + (b.y-a.y)*at/n}, {a.x + (b.x-a.x)*end/n, a.y + (b.y-a.y)*end/n}}, width, ink)
	}
}

// tracks reads path data as the curve package writes it: M absolute, l relative, Z; whole numbers.
func tracks(d string) (out [][]spot, closed bool) {
	var x, y float64
	i := 0
	number := func() (float64, bool) {
		for i < len(d) && d[i] == ' ' {
			i++
		}
		j := i
		if j < len(d) && d[j] == '-' {
			j++
		}
		for j < len(d) && d[j] >= '0' && d[j] <= '9' {
			j++
		}
		v, err := strconv.ParseFloat(d[i:j], 64)
		i = j
		return v, err == nil
	}
	command := byte(0)
	for i < len(d) {
		switch ch := d[i]; {
		case ch == 'M' || ch == 'l':
			command = ch
			i++
		case ch == 'Z':
			closed = true
			i++
			continue
		case ch == ' ':
			i++
			continue
		}
		a, ok := number()
		b, ok2 := number()
		if !ok || !ok2 {
			return out, closed
		}
		if command == 'M' {
			x, y = a, b
			out = append(out, []spot{{x, y}})
			command = 'l'
			continue
		}
		x, y = x+a, y+b
		if len(out) > 0 {
			out[len(out)-1] = append(out[len(out)-1], spot{x, y})
		}
	}
	return out, closed
}
