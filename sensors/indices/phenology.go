package indices

import "math"

// A Rate turns a day's mean temperature in °C into that day's share of development, in a unit of the rate's own.
type Rate func(mean float64) float64

// DegreesAbove is thermal time: the degrees by which a day's mean lies above base °C.
func DegreesAbove(base float64) Rate { return func(t float64) float64 { return max(t-base, 0) } }

// LogisticForcing is the forcing of a day at mean t °C, 0 to 28.4 (Hänninen 1990, after Sarvas 1974).
func LogisticForcing(t float64) float64 { return 28.4 / (1 + math.Exp(-0.185*(t-18.4))) }

// TriangularChill is the chilling of a day at mean t °C between −3.4 and 10.4, most at 3.5 (Hänninen 1990). The printed
// coefficients are rounded: the peak is 1.0625 and not 1.
func TriangularChill(t float64) float64 {
	switch {
	case t <= -3.4 || t >= 10.4:
		return 0
	case t <= 3.5:
		return 0.159*t + 0.506
	}
	return -0.159*t + 1.621
}

// UnifiedChill is the chilling function of Chuine 2000 with its shape a ≥ 0, b and c, 0 to 1.
func UnifiedChill(a, b, c float64) Rate {
	return func(t float64) float64 { return 1 / (1 + math.Exp(a*(t-c)*(t-c)+b*(t-c))) }
}

// UnifiedForcing is the forcing function of Chuine 2000 with its shape d < 0 and e, 0 to 1.
func UnifiedForcing(d, e float64) Rate {
	return func(t float64) float64 { return 1 / (1 + math.Exp(d*(t-e))) }
}

// Days at standard temperature are counted against 15 °C, which their authors write as 288.2 K.
const (
	gasConstant    = 8.314 // J/(mol K)
	standardKelvin = 288.2
)

// StandardDays is how many days at 15 °C one day at a given mean is worth, with an activation energy in J/mol (Konno & Sugihara
// 1986; Aono 1993).
func StandardDays(activation float64) Rate {
	return func(t float64) float64 {
		k := t + standardKelvin - 15
		return math.Exp(activation * (k - standardKelvin) / (gasConstant * k * standardKelvin))
	}
}

// ChillDay splits a day with extremes low and high °C into chill days, at most 0, and anti-chill days, at least 0, about a
// threshold of base °C above 0 (Cesaraccio, Spano, Snyder & Duce 2004, six cases).
func ChillDay(low, high, base float64) (chill, anti float64) {
	mean := (low + high) / 2
	// The part of a triangle above a line that it crosses.
	over := func(line float64) float64 { return (high - line) * (high - line) / (2 * (high - low)) }
	switch {
	case high <= 0:
		return 0, 0
	case low >= base:
		return 0, mean - base
	case low >= 0 && high > base:
		return -((mean - low) - over(base)), over(base)
	case low >= 0:
		return -(mean - low), 0
	case high > base:
		return -(over(0) - over(base)), over(base)
	}
	return -over(0), 0
}
