package curve

import (
	"iter"
	"math"
	"testing"
)

// winterOfMinutes is 201,600 readings, as a place gives in a rest season read every minute.
func winterOfMinutes() iter.Seq[Point] {
	return func(yield func(Point) bool) {
		for i := range int64(201_600) {
			v := int64(4000*math.Sin(float64(i)/229.2)) + i%97*13 - i/60
			if !yield(Point{i * 60, v}) {
				return
			}
		}
	}
}

// everyReading is the peer: the same path writer without thinning.
func everyReading(points iter.Seq[Point], w Window) string {
	var p path
	first := true
	for pt := range points {
		if first {
			p.start(w.X(pt.At), w.Y(pt.V))
		} else {
			p.to(w.X(pt.At), w.Y(pt.V))
		}
		first = false
	}
	return p.String()
}

// BenchmarkWinterOfMinutes draws the same winter thinned and whole in one run: compare ns/op and bytes/drawing.
func BenchmarkWinterOfMinutes(b *testing.B) {
	w := Window{Until: 201_600 * 60, Low: -15_000, High: 25_000, Cols: 720, Gap: 3600}
	for _, way := range []struct {
		name string
		draw func(iter.Seq[Point], Window) string
	}{{"lowest and highest", Line}, {"every reading", everyReading}} {
		b.Run(way.name, func(b *testing.B) {
			n := 0
			for b.Loop() {
				n = len(way.draw(winterOfMinutes(), w))
			}
			b.ReportMetric(float64(n), "bytes/drawing")
		})
	}
}
