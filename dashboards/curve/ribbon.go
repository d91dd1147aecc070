package curve

import "slices"

// A Band is the lowest and highest of a stretch of time (a day, or what is known of a sum) drawn at one instant.
type Band struct{ At, Low, High int64 }

// Ribbon gives path data for bands in order of time: the area between, and its lower and upper edge as lines. Bands of one column
// are joined to the lowest low and the highest high.
func Ribbon(bands []Band, w Window) (area, low, high string) {
	if !w.Valid() {
		return "", "", ""
	}
	var a, l, h path
	for _, run := range runs(bands, w) {
		for i, b := range run {
			x := w.X(b.At)
			if i == 0 {
				a.start(x, w.Y(b.High))
				l.start(x, w.Y(b.Low))
				h.start(x, w.Y(b.High))
				continue
			}
			a.to(x, w.Y(b.High))
			l.to(x, w.Y(b.Low))
			h.to(x, w.Y(b.High))
		}
		for _, b := range slices.Backward(run) {
			a.to(w.X(b.At), w.Y(b.Low))
		}
		a.close()
	}
	return a.String(), l.String(), h.String()
}

// runs joins bands by column and cuts them where the silence is longer than the gap.
func runs(bands []Band, w Window) [][]Band {
	var out [][]Band
	var run []Band
	last := int64(0)
	for _, b := range bands {
		if !w.holds(b.At) {
			continue
		}
		if n := len(run); n > 0 {
			if w.Gap > 0 && b.At-last > w.Gap {
				out, run = append(out, run), nil
			} else if p := &run[n-1]; w.Column(p.At) == w.Column(b.At) {
				p.Low, p.High = min(p.Low, b.Low), max(p.High, b.High)
				last = b.At
				continue
			}
		}
		run, last = append(run, b), b.At
	}
	if len(run) > 0 {
		out = append(out, run)
	}
	return out
}
