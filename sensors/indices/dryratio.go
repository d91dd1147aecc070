package indices

import (
	"math"
	"time"
)

// A DryPair is what two pots held at one time, ‰ of drained-full. Wetted says that water came to one of them since the pair before: it
// need not show, since a pot that is watered each day stands where it stood.
type DryPair struct {
	At     time.Time
	A, B   int64
	Wetted bool
}

// A DryRatio is how many times as fast B dries as A, with its relative spread (one standard error) and the days both fell together.
type DryRatio struct {
	Times, Spread float64
	Days          int
}

// Limits of a learnt ratio (guesses): under a week of common drying, or with an answer open to more than a quarter, nothing is said.
const (
	ratioDays   = 7
	ratioSpread = 0.25
	ratioRise   = 30 // ‰ between two pairs: one of the pots was watered
	ratioGap    = 7 * 24 * time.Hour
)

// LearnDryRatio compares how two pots dried over the same days. Water left falls as exp(-k·D), D being the air's demand, so that between
// two waterings one pot's logarithm is a straight line over the other's whatever the weather, and its slope is the ratio of their k.
// The shares themselves tell nothing: at rest two pots may stand for weeks at levels that lie a mark's error apart. Both logarithms carry
// the same error, so the line is Deming's (W. E. Deming, Statistical Adjustment of Data, 1943), over all stretches between waterings together,
// each about its own mean. Pairs are in order of time. ok is false when too little is known.
func LearnDryRatio(pairs []DryPair) (r DryRatio, ok bool) {
	var all dryStretch
	var stretches []dryStretch
	for len(pairs) > 0 {
		n := 1
		for n < len(pairs) && together(pairs[n-1], pairs[n]) {
			n++
		}
		if s, long := stretchOf(pairs[:n]); long {
			stretches = append(stretches, s)
			all.add(s, 1)
		}
		pairs = pairs[n:]
	}
	r.Days = int(all.days + 0.5)
	if all.days < ratioDays {
		return r, false
	}
	if r.Times, ok = all.slope(); !ok {
		return r, false
	}
	r.Spread = all.spread(r.Times)
	if n := len(stretches); n >= 3 { // whole stretches may err together: each is left out in turn
		sum := 0.0
		for _, s := range stretches {
			rest := all
			rest.add(s, -1)
			if t, ok := rest.slope(); ok {
				d := math.Log(t / r.Times)
				sum += d * d
			}
		}
		r.Spread = max(r.Spread, math.Sqrt(sum*float64(n-1)/float64(n)))
	}
	return r, r.Spread <= ratioSpread
}

func together(a, b DryPair) bool {
	return !b.Wetted && b.At.After(a.At) && b.At.Sub(a.At) <= ratioGap && b.A-a.A < ratioRise && b.B-a.B < ratioRise
}

// A dryStretch is the sums of a stretch between two waterings, about its means.
type dryStretch struct {
	n, days       float64
	sxx, syy, sxy float64
	free          float64 // points less means
}

// stretchOf wants two pairs and half a day between them: in growth many a stretch is no longer.
func stretchOf(pairs []DryPair) (s dryStretch, ok bool) {
	s.days = pairs[len(pairs)-1].At.Sub(pairs[0].At).Hours() / 24
	var mx, my float64
	for _, p := range pairs {
		if p.A <= 0 || p.B <= 0 {
			return s, false
		}
		mx, my = mx+math.Log(float64(p.A)), my+math.Log(float64(p.B))
	}
	s.n = float64(len(pairs))
	mx, my = mx/s.n, my/s.n
	for _, p := range pairs {
		x, y := math.Log(float64(p.A))-mx, math.Log(float64(p.B))-my
		s.sxx, s.syy, s.sxy = s.sxx+x*x, s.syy+y*y, s.sxy+x*y
	}
	s.free = s.n - 1
	return s, len(pairs) >= 2 && s.days > 0.5
}

func (s *dryStretch) add(o dryStretch, times float64) {
	s.n, s.days, s.free = s.n+times*o.n, s.days+times*o.days, s.free+times*o.free
	s.sxx, s.syy, s.sxy = s.sxx+times*o.sxx, s.syy+times*o.syy, s.sxy+times*o.sxy
}

// slope is Deming's for equal errors; ok is false where nothing falls together.
func (s *dryStretch) slope() (float64, bool) {
	if s.sxy <= 0 {
		return 0, false
	}
	d := s.syy - s.sxx
	return (d + math.Sqrt(d*d+4*s.sxy*s.sxy)) / (2 * s.sxy), true
}

// spread is the slope's relative standard error from the points' distance from the line.
func (s *dryStretch) spread(b float64) float64 {
	off := (s.syy - 2*b*s.sxy + b*b*s.sxx) / (1 + b*b) // squared distance from the line
	if s.free < 3 {
		return 1
	}
	noise := off / (s.free - 1)
	// Along the line lies what is left of both sums; noise has its share in it.
	along := max((s.sxx+2*b*s.sxy+b*b*s.syy)/(1+b*b)-off, 1e-12)
	angle := math.Sqrt(noise / along)
	return angle * (1 + b*b) / b
}
