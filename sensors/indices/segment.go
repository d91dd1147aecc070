package indices

import "time"

// gapFactor times a probe's usual spacing is the longest stretch two readings may span; beyond it there is a gap, and nothing
// is carried across a gap into a sum.
const gapFactor = 3

// firstStretch bounds the very first stretch of a probe, before it has a usual spacing.
const firstStretch = 3 * time.Hour

// A Segment is the straight line between two neighbouring readings, or the gap between them.
type Segment struct {
	From, To time.Time
	V0, V1   int64 // whole-number units at From and To; meaningless in a gap
	Gap      bool
}

// Seconds is the segment's length.
func (s Segment) Seconds() int64 { return int64(s.To.Sub(s.From) / time.Second) }

// Cut gives the part of the segment before t and the part from t on; the value at t lies on the line.
func (s Segment) Cut(t time.Time) (before, after Segment) {
	total := s.Seconds()
	if total <= 0 {
		return s, s
	}
	part := int64(t.Sub(s.From) / time.Second)
	v := s.V0 + (s.V1-s.V0)*part/total
	return Segment{s.From, t, s.V0, v, s.Gap}, Segment{t, s.To, v, s.V1, s.Gap}
}

// Sum is the integral of the line over time, in units times seconds, exact but for half a unit-second.
func (s Segment) Sum() int64 { return (s.V0 + s.V1) * s.Seconds() / 2 }

// Above is the integral over time of what the line has above base, never negative, in units times seconds (m°C·s for m°C).
// It is the degree-day integral of what was measured, in whole numbers, so it is equal on every processor.
func (s Segment) Above(base int64) int64 {
	a, b, dt := s.V0-base, s.V1-base, s.Seconds()
	switch {
	case a >= 0 && b >= 0:
		return (a + b) * dt / 2
	case a <= 0 && b <= 0:
		return 0
	case a > 0:
		return a * a * dt / (2 * (a - b))
	default:
		return b * b * dt / (2 * (b - a))
	}
}

// TimeAtOrBelow is how many seconds of the segment lie at or below level.
func (s Segment) TimeAtOrBelow(level int64) int64 {
	a, b, dt := s.V0-level, s.V1-level, s.Seconds()
	switch {
	case a <= 0 && b <= 0:
		return dt
	case a > 0 && b > 0:
		return 0
	case a > 0:
		return dt - a*dt/(a-b)
	default:
		return dt - b*dt/(b-a)
	}
}

// A Trace joins one probe's readings into segments and knows its usual spacing.
type Trace struct {
	at     time.Time
	v      int64
	have   bool
	usual  time.Duration
	recent [9]time.Duration
	n      int
}

// Take adds a reading and returns the segment that ends in it; ok is false for the first reading and for one not later than
// the last.
func (tr *Trace) Take(now time.Time, v int64) (s Segment, ok bool) {
	if !tr.have {
		tr.at, tr.v, tr.have = now, v, true
		return Segment{}, false
	}
	dt := now.Sub(tr.at)
	if dt <= 0 {
		return Segment{}, false
	}
	s = Segment{From: tr.at, To: now, V0: tr.v, V1: v, Gap: dt > tr.longest()}
	tr.learn(dt)
	tr.at, tr.v = now, v
	return s, true
}

// Last gives the newest reading.
func (tr *Trace) Last() (at time.Time, v int64, ok bool) { return tr.at, tr.v, tr.have }

// Usual is the probe's usual spacing: the median of its last nine, nought while unknown.
func (tr *Trace) Usual() time.Duration { return tr.usual }

// Silent reports whether the probe has been quiet for over three times its usual spacing at now.
func (tr *Trace) Silent(now time.Time) bool { return tr.have && now.Sub(tr.at) > tr.longest() }

// Restart forgets the newest reading, so that the next one begins anew (a probe moved to another pot).
func (tr *Trace) Restart() { tr.have = false }

func (tr *Trace) longest() time.Duration {
	if tr.usual == 0 {
		return firstStretch
	}
	return gapFactor * tr.usual
}

func (tr *Trace) learn(dt time.Duration) {
	if dt > firstStretch {
		return // a gap says nothing about the usual spacing
	}
	tr.recent[tr.n%len(tr.recent)] = dt
	tr.n++
	if dt == tr.usual {
		return
	}
	tr.usual = median(tr.recent[:min(tr.n, len(tr.recent))])
}

func median(d []time.Duration) time.Duration {
	var s [9]time.Duration
	n := copy(s[:], d)
	for i := 1; i < n; i++ {
		for j := i; j > 0 && s[j] < s[j-1]; j-- {
			s[j], s[j-1] = s[j-1], s[j]
		}
	}
	return s[n/2]
}
