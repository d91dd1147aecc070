package indices

import "math"

// wave counts a day drawn as a sine or triangle between its extremes. Everything follows from two functions of a threshold: the
// mean excess above it and the share of the day above it; the six printed cases of Zalom et al. 1983 are these in disguise.
func (d DegreeDays) wave(low, high float64) float64 {
	above, share := sineAbove, sineShare
	if d.Method == Triangle || d.Method == DoubleTriangle {
		above, share = triangleAbove, triangleShare
	}
	sum := above(low, high, d.Base)
	switch d.Cutoff {
	case Horizontal:
		sum -= above(low, high, d.Upper)
	case Intermediate:
		sum -= 2 * above(low, high, d.Upper)
	case Vertical:
		sum -= above(low, high, d.Upper) + (d.Upper-d.Base)*share(low, high, d.Upper)
	}
	return max(sum, 0)
}

// sineAbove is the mean over the day of how far a sine between low and high lies above h.
func sineAbove(low, high, h float64) float64 {
	mean, half := (high+low)/2, (high-low)/2
	switch {
	case h >= high:
		return 0
	case h <= low:
		return mean - h
	}
	theta := math.Asin((h - mean) / half)
	return ((mean-h)*(math.Pi/2-theta) + half*math.Cos(theta)) / math.Pi
}

// sineShare is the share of the day that a sine between low and high spends above h.
func sineShare(low, high, h float64) float64 {
	switch {
	case h >= high:
		return 0
	case h <= low:
		return 1
	}
	return 0.5 - math.Asin((h-(high+low)/2)/((high-low)/2))/math.Pi
}

func triangleAbove(low, high, h float64) float64 {
	switch {
	case h >= high:
		return 0
	case h <= low:
		return (high+low)/2 - h
	}
	return (high - h) * (high - h) / (2 * (high - low))
}

func triangleShare(low, high, h float64) float64 {
	switch {
	case h >= high:
		return 0
	case h <= low:
		return 1
	}
	return (high - h) / (high - low)
}
