package curve

import "iter"

// Line gives path data for points in order of time. Of each column it keeps the lowest and the highest, in the order they
// happened, so the true low of a night is always drawn; a silence longer than the window's Gap breaks the line.
func Line(points iter.Seq[Point], w Window) string {
	if !w.Valid() {
		return ""
	}
	l := liner{w: w}
	for p := range points {
		if w.holds(p.At) {
			l.take(p)
		}
	}
	l.flush()
	return l.path.String()
}

// liner holds one column's extremes.
type liner struct {
	w         Window
	path      path
	begun     bool // the line has a point
	has       bool // the column has a point
	col, last int64
	low, high Point
}

func (l *liner) take(p Point) {
	c := l.w.Column(p.At)
	broken := l.has && l.w.Gap > 0 && p.At-l.last > l.w.Gap
	if l.has && (c != l.col || broken) {
		l.flush()
		if broken {
			l.begun = false
		}
	}
	l.last = p.At
	if !l.has {
		l.col, l.low, l.high, l.has = c, p, p, true
		return
	}
	if p.V < l.low.V {
		l.low = p
	}
	if p.V > l.high.V {
		l.high = p
	}
}

func (l *liner) flush() {
	if !l.has {
		return
	}
	first, second := l.low, l.high
	if second.At < first.At {
		first, second = second, first
	}
	l.point(first)
	if second != first {
		l.point(second)
	}
	l.has = false
}

func (l *liner) point(p Point) {
	x, y := l.w.X(p.At), l.w.Y(p.V)
	if l.begun {
		l.path.to(x, y)
	} else {
		l.path.start(x, y)
	}
	l.begun = true
}
