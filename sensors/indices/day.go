package indices

import (
	"time"

	"lathwatch/sensors/garden"
)

// A Day gathers what one probe (or one pot, through its moves) went through in a civil day. Sums are whole numbers.
type Day struct {
	Date    garden.Date
	Length  int64 // seconds in the civil day
	Covered int64 // seconds really observed
	Missed  int64 // seconds known to be unobserved so far
	Sum     int64 // m°C·s over the covered time
	Min     int64 // m°C
	Max     int64
	Above   int64 // m°C·s above the base over the covered time
	AtMost5 int64 // seconds at or below 5 °C
}

// Mean is the mean over the covered time in m°C; ok is false when nothing was observed.
func (d *Day) Mean() (int64, bool) {
	if d.Covered == 0 {
		return 0, false
	}
	return roundDiv(d.Sum, d.Covered), true
}

// Observed is the share of the civil day really observed, 0 to 1.
func (d *Day) Observed() float64 {
	if d.Length == 0 {
		return 0
	}
	return float64(d.Covered) / float64(d.Length)
}

func (d *Day) add(s Segment, base int64) {
	if s.Gap {
		d.Missed += s.Seconds()
		return
	}
	if d.Covered == 0 {
		d.Min, d.Max = min(s.V0, s.V1), max(s.V0, s.V1)
	}
	d.Min, d.Max = min(d.Min, s.V0, s.V1), max(d.Max, s.V0, s.V1)
	d.Covered += s.Seconds()
	d.Sum += s.Sum()
	d.Above += s.Above(base)
	d.AtMost5 += s.TimeAtOrBelow(5000)
}

// Days cuts segments at the civil days' edges and hands out each day when it is over.
type Days struct {
	Cal     garden.Calendar
	Base    int64 // m°C, for Day.Above
	Today   Day
	edge    time.Time // first instant after Today
	started bool
}

// Take adds a segment; done is called for each day that ends within it, in order, before the next day begins. A gap over
// several days hands out each of them.
func (ds *Days) Take(s Segment, done func(Day)) {
	if !ds.started {
		ds.begin(ds.Cal.DateOf(s.From))
		ds.Today.Missed = int64(s.From.Sub(ds.Cal.Start(ds.Today.Date)) / time.Second)
		ds.started = true
	}
	for s.To.After(ds.edge) {
		var before Segment
		before, s = s.Cut(ds.edge)
		ds.Today.add(before, ds.Base)
		done(ds.Today)
		ds.begin(ds.Today.Date + 1)
	}
	ds.Today.add(s, ds.Base)
}

func (ds *Days) begin(d garden.Date) {
	start := ds.Cal.Start(d)
	ds.edge = ds.Cal.Start(d + 1)
	ds.Today = Day{Date: d, Length: int64(ds.edge.Sub(start) / time.Second)}
}

// Started reports whether any segment has been taken.
func (ds *Days) Started() bool { return ds.started }

// roundDiv divides rounding half away from zero; d > 0.
func roundDiv(n, d int64) int64 {
	if n < 0 {
		return -((-n + d/2) / d)
	}
	return (n + d/2) / d
}
