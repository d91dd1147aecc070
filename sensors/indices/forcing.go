package indices

// A Sum is a degree-time sum as an interval: what was observed, and what the unobserved time could have added at most.
type Sum struct {
	Low, High int64 // m°C·s
	Covered   int64 // seconds observed
	Span      int64 // seconds asked about
}

// Add adds a day's (or part day's) share: above over the covered seconds, and for the missed ones at most rate m°C above base.
func (s *Sum) Add(above, covered, missed, rate int64) {
	s.Low += above
	s.High += above + missed*rate
	s.Covered += covered
	s.Span += covered + missed
}

// DegreeDays gives the interval in °C·d.
func (s Sum) DegreeDays() (low, high float64) {
	return float64(s.Low) / 86_400_000, float64(s.High) / 86_400_000
}

// Observed is the share of the span really observed, 1 when nothing was asked.
func (s Sum) Observed() float64 {
	if s.Span == 0 {
		return 1
	}
	return float64(s.Covered) / float64(s.Span)
}

// GapRate is the most a missed second is thought to add to a sum above a base, in m°C: the warmer of the days either side
// plus a margin of 3 °C. With nothing known it is 15 °C.
func GapRate(maxBefore, maxAfter int64, known bool, base int64) int64 {
	if !known {
		return 15_000
	}
	return max(max(maxBefore, maxAfter)+3000-base, 0)
}
