package indices

import (
	"fmt"
	"math"
)

// A Method says how a degree-day figure was made. A figure without its method cannot be compared with another.
type Method uint8

// The methods. Measured integrates the readings themselves and is the default; the others are guesses at the day between its
// extremes, for records that hold nothing else and for comparison with tables made that way.
const (
	Measured       Method = iota
	Average               // mean of maximum and minimum less the base (McMaster & Wilhelm 1997, method 1)
	AverageClipped        // maximum and minimum first brought within base and limit (method 2)
	Triangle              // straight lines up and down (Lindsey & Newman 1956)
	DoubleTriangle        // the second line falls to the minimum of the next day
	Sine                  // one sine wave (Baskerville & Emin 1969)
	DoubleSine            // the second half falls to the minimum of the next day (Allen 1976)
	FourCase              // the rule of four cases of the British and Irish weather services
)

var methodNames = [...]string{"integral of the readings", "average", "average of clipped extremes", "single triangle", "double triangle",
	"single sine", "double sine", "four-case rule"}

func (m Method) String() string {
	if int(m) < len(methodNames) {
		return methodNames[m]
	}
	return fmt.Sprintf("method %d", uint8(m))
}

// A Cutoff says what happens to the rate of growth above the upper limit.
type Cutoff uint8

// The cut-offs of Zalom et al. 1983.
const (
	NoCutoff     Cutoff = iota
	Horizontal          // the rate stays as it is at the limit
	Intermediate        // the rate falls as far as the temperature lies above the limit; never below 0 for the day
	Vertical            // the rate is 0 above the limit
)

var cutoffNames = [...]string{"no", "horizontal", "intermediate", "vertical"}

func (c Cutoff) String() string {
	if int(c) < len(cutoffNames) {
		return cutoffNames[c]
	}
	return fmt.Sprintf("cut-off %d", uint8(c))
}

// DegreeDays is one way to count: all temperatures in one scale, °C or °F, and the result in degree-days of it.
type DegreeDays struct {
	Method Method
	Base   float64
	Cutoff Cutoff
	Upper  float64 // the upper limit; only with a Cutoff
}

func (d DegreeDays) String() string {
	s := fmt.Sprintf("%v, base %g", d.Method, d.Base)
	if d.Cutoff != NoCutoff {
		s += fmt.Sprintf(", %v cut-off at %g", d.Cutoff, d.Upper)
	}
	return s
}

// A DayRange is a day's lowest and highest temperature, and the lowest of the next day for the double methods.
type DayRange struct{ Min, Max, NextMin float64 }

// Check says what makes this way of counting from daily extremes impossible: a method that needs the readings, an upper limit
// that is not above the base, or a cut-off the method does not know.
func (d DegreeDays) Check() error {
	switch {
	case d.Method == Measured:
		return fmt.Errorf("counting degree-days: the %v needs readings, not daily extremes", d.Method)
	case int(d.Method) >= len(methodNames) || int(d.Cutoff) >= len(cutoffNames):
		return fmt.Errorf("counting degree-days: %v, %v", d.Method, d.Cutoff)
	case d.Cutoff != NoCutoff && !(d.Upper > d.Base):
		return fmt.Errorf("counting degree-days: the upper limit %g is not above the base %g", d.Upper, d.Base)
	case d.Cutoff > Horizontal && !d.Method.isWave(), d.Cutoff == Horizontal && d.Method == FourCase:
		return fmt.Errorf("counting degree-days: the %v knows no %v cut-off", d.Method, d.Cutoff)
	}
	return nil
}

func (m Method) isWave() bool { return m >= Triangle && m <= DoubleSine }

// Day is the degree-days of one day, never below 0; NaN when Check refuses the way of counting or the day's highest lies below
// its lowest.
func (d DegreeDays) Day(r DayRange) float64 {
	if d.Check() != nil || !(r.Max >= r.Min) {
		return math.NaN()
	}
	switch d.Method {
	case Average:
		return d.average(r)
	case AverageClipped:
		return d.averageClipped(r)
	case FourCase:
		return fourCase(r, d.Base)
	case Triangle, Sine:
		return d.wave(r.Min, r.Max)
	}
	// The next minimum may lie above today's maximum when a day begins in the night; the fall is then no fall.
	return (d.wave(r.Min, r.Max) + d.wave(min(r.NextMin, r.Max), r.Max)) / 2
}

// Sum adds up days in order. For a double method the caller fills in NextMin, with a last day's own minimum where no day follows.
func (d DegreeDays) Sum(days []DayRange) float64 {
	sum := 0.0
	for _, r := range days {
		sum += d.Day(r)
	}
	return sum
}
