package indices

import (
	"errors"
	"math"
)

// FrostNight is one night's evening reading and its minimum, °C.
type FrostNight struct{ T, Dew, Low float64 }

// FrostLine predicts a night's minimum from an evening reading: Base + PerT·T + PerDew·Dew, °C.
type FrostLine struct{ Base, PerT, PerDew float64 }

// At gives the predicted minimum in °C.
func (l FrostLine) At(t, dew float64) float64 {
	return l.Base + float64(l.PerT*t) + float64(l.PerDew*dew)
}

// errFewNights is given when a line cannot be fitted.
var errFewNights = errors.New("fitting night minima: fewer than four nights, or evenings all alike")

// TwoStep fits the minimum on the temperature, then what is left on the dew point (Snyder & de Melo-Abreu 2005, FAO Frost
// Protection vol. 1, ch. 5). r2 is the share of the minima's variance explained.
func TwoStep(nights []FrostNight) (line FrostLine, r2 float64, err error) {
	return fitNights(nights, nightSums.twoStep)
}

// JointFit fits the minimum on temperature and dew point together by ordinary least squares; the two differ when evenings' T
// and dew point go together.
func JointFit(nights []FrostNight) (line FrostLine, r2 float64, err error) {
	return fitNights(nights, nightSums.joint)
}

// TempOnly fits the minimum on the temperature alone.
func TempOnly(nights []FrostNight) (line FrostLine, r2 float64, err error) {
	return fitNights(nights, nightSums.tempOnly)
}

func fitNights(nights []FrostNight, f nightFit) (FrostLine, float64, error) {
	var s nightSums
	for _, n := range nights {
		s.add(nightOf(n), 1)
	}
	line, ok := f(s)
	if !ok {
		return FrostLine{}, 0, errFewNights
	}
	var res float64
	for _, n := range nights {
		d := n.Low - line.At(n.T, n.Dew)
		res += d * d
	}
	return line, 1 - res/(s.cov(s.ll, s.l, s.l)*float64(s.n)/1e6), nil
}

type nightFit func(nightSums) (FrostLine, bool)

// nightMilli is a night in whole m°C, so that sums do not depend on order or processor.
type nightMilli struct{ t, d, l int64 }

func nightOf(n FrostNight) nightMilli {
	r := func(x float64) int64 { return int64(math.Round(x * 1000)) }
	return nightMilli{r(n.T), r(n.Dew), r(n.Low)}
}

// nightSums holds every sum the fits need; a night can be taken out again, which makes leave-one-out cheap.
type nightSums struct{ n, t, d, l, tt, td, dd, tl, dl, ll int64 }

func (s *nightSums) add(m nightMilli, sign int64) {
	s.n += sign
	s.t, s.d, s.l = s.t+sign*m.t, s.d+sign*m.d, s.l+sign*m.l
	s.tt, s.td, s.dd = s.tt+sign*m.t*m.t, s.td+sign*m.t*m.d, s.dd+sign*m.d*m.d
	s.tl, s.dl, s.ll = s.tl+sign*m.t*m.l, s.dl+sign*m.d*m.l, s.ll+sign*m.l*m.l
}

// cov is the covariance in m°C² from a product sum and two sums.
func (s nightSums) cov(xy, x, y int64) float64 {
	n := float64(s.n)
	return (float64(xy) - float64(x)*float64(y)/n) / n
}

func (s nightSums) mean() (t, d, l float64) {
	n := float64(s.n) * 1000
	return float64(s.t) / n, float64(s.d) / n, float64(s.l) / n
}

// leastVaried is the variance in m°C² under which evenings are all alike: half a degree's spread tells no slope worth extending.
const leastVaried = 250_000

func (s nightSums) tempOnly() (FrostLine, bool) {
	if s.n < 4 {
		return FrostLine{}, false
	}
	tt := s.cov(s.tt, s.t, s.t)
	if tt < leastVaried {
		return FrostLine{}, false
	}
	b := s.cov(s.tl, s.t, s.l) / tt
	t, _, l := s.mean()
	return FrostLine{l - b*t, b, 0}, true
}

func (s nightSums) twoStep() (FrostLine, bool) {
	line, ok := s.tempOnly()
	dd := s.cov(s.dd, s.d, s.d)
	if !ok || dd < leastVaried {
		return line, false
	}
	// The residual's mean is zero, so its covariance with the dew point needs only the sums.
	b2 := (s.cov(s.dl, s.d, s.l) - line.PerT*s.cov(s.td, s.t, s.d)) / dd
	_, d, _ := s.mean()
	return FrostLine{line.Base - b2*d, line.PerT, b2}, true
}

func (s nightSums) joint() (FrostLine, bool) {
	if s.n < 4 {
		return FrostLine{}, false
	}
	tt, td, dd := s.cov(s.tt, s.t, s.t), s.cov(s.td, s.t, s.d), s.cov(s.dd, s.d, s.d)
	tl, dl := s.cov(s.tl, s.t, s.l), s.cov(s.dl, s.d, s.l)
	det := tt*dd - td*td
	if tt < leastVaried || dd < leastVaried || det < 1e-6*tt*dd || det <= 0 {
		return FrostLine{}, false
	}
	b1, b2 := (tl*dd-dl*td)/det, (dl*tt-tl*td)/det
	t, d, l := s.mean()
	return FrostLine{l - b1*t - b2*d, b1, b2}, true
}

// leaveOneOut gives the root mean square error in °C of predicting each night from the others.
func leaveOneOut(nights []nightMilli, s nightSums, f nightFit) (float64, bool) {
	var sum float64
	for _, m := range nights {
		s.add(m, -1)
		line, ok := f(s)
		s.add(m, 1)
		if !ok {
			return 0, false
		}
		d := float64(m.l)/1000 - line.At(float64(m.t)/1000, float64(m.d)/1000)
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(nights))), len(nights) > 4
}

// NightTrend gives the air temperature in °C h hours after sunset on a clear still night of the given length in hours: the fall from
// the reading t2 at two hours follows the square root of time to the minimum at sunrise (Snyder & de Melo-Abreu 2005, ch. 5).
// False before two hours and after sunrise.
func NightTrend(t2, low, night, h float64) (float64, bool) {
	if h < 2 || h > night || night <= 2 {
		return 0, false
	}
	return t2 + (low-t2)*math.Sqrt(h-2)/math.Sqrt(night-2), true
}

// AfternoonLow gives the grass minimum in °C of a clear, nearly calm night from the air and dew point at about 15:00 local solar
// time: (T + dew/2)/3 less 8 in spring and autumn and 9 in midwinter (a 1973 forecasting study for Canterbury, New Zealand, as
// relayed by a regional frost page). Grass lies below the air at plant height.
func AfternoonLow(t15, dew15 float64, midwinter bool) float64 {
	c := 8.0
	if midwinter {
		c = 9
	}
	return (t15+dew15/2)/3 - c
}

// FirstGuessLow is the first season's clear-night guess in °C from the air two hours after sunset: six degrees less. A guess.
func FirstGuessLow(t2 float64) float64 { return t2 - 6 }
