package curve

import "lathwatch/sensors/garden"

// A Point is a value in whole-number units at an instant in seconds since 1970.
type Point struct{ At, V int64 }

// Height is how many units a drawing is high; values are rounded to one of them. Across, every column is colUnits wide.
const (
	Height   = 2000
	colUnits = 4
)

// A Window is the span of time and of values that a drawing shows.
type Window struct {
	From, Until int64 // seconds; Until is past the end
	Low, High   int64 // values at the foot and the head; Low < High
	Cols        int   // columns to thin to; zero: 360
	Gap         int64 // a longer silence breaks the line, seconds; zero: never
}

func (w Window) cols() int64 {
	if w.Cols <= 0 {
		return 360
	}
	return int64(w.Cols)
}

// Width is how many units the drawing is wide.
func (w Window) Width() int64 { return w.cols() * colUnits }

// Valid reports whether there is anything to draw on.
func (w Window) Valid() bool { return w.Until > w.From && w.High > w.Low }

func (w Window) holds(at int64) bool { return at >= w.From && at < w.Until }

// X is an instant's place across, in units.
func (w Window) X(at int64) int64 { return (at - w.From) * w.Width() / (w.Until - w.From) }

// Y is a value's place down from the head, in units, rounded.
func (w Window) Y(v int64) int64 {
	span := w.High - w.Low
	n := (w.High - v) * Height * 2
	if n < 0 {
		return -((-n/span + 1) / 2)
	}
	return (n/span + 1) / 2
}

// Column is the column an instant falls in.
func (w Window) Column(at int64) int64 { return (at - w.From) * w.cols() / (w.Until - w.From) }

// across is an instant's place in per cent of the width.
func (w Window) across(at int64) float64 {
	return 100 * float64(at-w.From) / float64(w.Until-w.From)
}

// down is a value's place in per cent of the height from the head.
func (w Window) down(v int64) float64 { return 100 * float64(w.High-v) / float64(w.High-w.Low) }

// Noon is the middle of a civil day in seconds, where a day's figure is drawn.
func Noon(cal garden.Calendar, d garden.Date) int64 {
	return (cal.Start(d).Unix() + cal.Start(d+1).Unix()) / 2
}
