package indices

import "math"

// PlaceOffset learns how much warmer one place's minimum is than another's (table minus wall), on clear nights and on others
// apart, starting from a guess worth three nights: +0.9 °C on clear nights under an open roof, 0 otherwise. The zero value is ready.
type PlaceOffset struct {
	clear, other offsetRun
	last         Milli
	any          bool
}

type offsetRun struct{ n, sum, sq int64 }

const offsetGuess Milli = 900

const (
	offsetWeight = 3
	offsetSpread = 0.8 // °C, of the guess
	offsetNights = 120 // older nights fade beyond this many
)

// Add gives one night's two minima in m°C. A night whose sky is not known counts as clear.
func (p *PlaceOffset) Add(place, ref Milli, cloudy bool) {
	d := place - ref
	p.last, p.any = d, true
	r := &p.clear
	if cloudy {
		r = &p.other
	}
	if r.n >= offsetNights {
		r.n, r.sum, r.sq = r.n-1, r.sum-r.sum/r.n, r.sq-r.sq/r.n
	}
	r.n, r.sum, r.sq = r.n+1, r.sum+d, r.sq+d*d
}

// OffsetSums is what a PlaceOffset has learned, for keeping over seasons: nights, sum and sum of squares (m°C) of clear nights and others.
type OffsetSums struct{ ClearN, ClearSum, ClearSq, OtherN, OtherSum, OtherSq int64 }

// Sums gives what was learned so far.
func (p *PlaceOffset) Sums() OffsetSums {
	return OffsetSums{p.clear.n, p.clear.sum, p.clear.sq, p.other.n, p.other.sum, p.other.sq}
}

// Remember starts from what earlier seasons taught.
func (p *PlaceOffset) Remember(s OffsetSums) {
	p.clear, p.other = offsetRun{s.ClearN, s.ClearSum, s.ClearSq}, offsetRun{s.OtherN, s.OtherSum, s.OtherSq}
}

// Last is the newest night's offset in m°C.
func (p *PlaceOffset) Last() (Milli, bool) { return p.last, p.any }

// Offset gives the expected offset in m°C and its spread in °C; guess is true under three nights of that kind.
func (p *PlaceOffset) Offset(cloudy bool) (offset Milli, spread float64, guess bool) {
	r, prior := p.clear, offsetGuess
	if cloudy {
		r, prior = p.other, 0
	}
	m := (r.sum + prior*offsetWeight) / (r.n + offsetWeight)
	v := offsetSpread * offsetSpread * offsetWeight
	if r.n > 0 {
		mean := float64(r.sum) / float64(r.n)
		v += math.Max(0, float64(r.sq)-mean*float64(r.sum)) / 1e6
	}
	return m, math.Sqrt(v / float64(r.n+offsetWeight)), r.n < offsetWeight
}

// Leaves radiate to an open sky: 1 to 3 °C below the air on clear still nights, near the air under a roof or cloud
// (Agric. For. Meteorol. 42, 1988, 121-133).
const (
	leafOpen Milli = 2500
	leafRoof Milli = 500
)

// LeafBelowAir gives by how many m°C a leaf is colder than the air on a still night; clear is the share of clear sky from 0 to 1.
// Pass 1 when it is not known: the cautious side.
func LeafBelowAir(roof bool, clear float64) Milli {
	d := leafOpen
	if roof {
		d = leafRoof
	}
	return Milli(math.Round(float64(d) * max(0, min(1, clear))))
}

// NightLows answers the morning's question, whether frost is expected on the next two nights, when no forecast is at hand: the
// mean of the last three minima, less the error that rule has made here of late. It is a guess and to be called one.
type NightLows struct {
	last  [3]Milli
	n     int
	night int
	errs  [lowsKept]int64 // squared errors of the last weeks in (0.1 °C)²; older ones say little of this season's weather
	tried int
	made  [2]Milli // what was expected of the last two nights, oldest first
	madeN int
}

const lowsGuess Milli = 3000 // taken for the error until enough nights were scored

const lowsLeast = 6

// lowsKept is how many errors are kept: a month of nights, two each.
const lowsKept = 60

// Add gives the minimum in m°C of a night; nights are numbered one up a day, and a missing one starts the mean anew.
func (l *NightLows) Add(night int, low Milli) {
	if l.n > 0 && night != l.night+1 {
		*l = NightLows{errs: l.errs, tried: l.tried}
	}
	l.night = night
	for i := range l.madeN {
		d := (l.made[i] - low) / 100
		l.errs[l.tried%lowsKept] = d * d
		l.tried++
	}
	l.last = [3]Milli{l.last[1], l.last[2], low}
	if l.n++; l.n < 3 {
		return
	}
	if m := l.mean(); l.madeN < 2 {
		l.made[l.madeN] = m
		l.madeN++
	} else {
		l.made = [2]Milli{l.made[1], m}
	}
}

func (l *NightLows) mean() Milli { return (l.last[0] + l.last[1] + l.last[2]) / 3 }

// Ahead gives the minimum in m°C expected of each of the next two nights and the rule's root mean square error of late; false
// before three nights in a row.
func (l *NightLows) Ahead() (low, err Milli, ok bool) {
	err = lowsGuess
	if l.tried >= lowsLeast {
		sum, n := int64(0), min(l.tried, lowsKept)
		for _, e := range l.errs[:n] {
			sum += e
		}
		err = Milli(math.Round(100 * math.Sqrt(float64(sum)/float64(n))))
	}
	return l.mean(), err, l.n >= 3
}

// FrostAhead says whether a night at or below the limit in m°C is to be reckoned with on the next two nights: the mean of the
// last three minima less the rule's error. known is false before three nights in a row.
func (l *NightLows) FrostAhead(limit Milli) (expected, known bool) {
	low, err, ok := l.Ahead()
	return ok && low-err <= limit, ok
}
