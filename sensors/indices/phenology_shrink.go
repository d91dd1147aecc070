package indices

import "math"

// A ForcingClass is what is known of plants of one earliness: the mean forcing need, how far plants differ from it, and how far
// one plant differs from year to year (both standard deviations, in the need's unit).
type ForcingClass struct{ Mean, Between, Within float64 }

// withinYears is how many years of a plant's own the class's year-to-year spread counts for (common practice, no source).
const withinYears = 6

// A ForcingNeed is what one plant is thought to need: the mean, how unsure that mean is, and the spread from year to year.
type ForcingNeed struct {
	Mean, Unsure, Within float64
	Years                int // of the plant's own
}

// Spread is the standard deviation of what the coming year will need.
func (n ForcingNeed) Spread() float64 { return math.Hypot(n.Unsure, n.Within) }

// Shrink draws a plant's own forcing sums towards its class, the more the fewer they are: the mean of a normal prior and normal
// observations (the usual partial pooling; Gelman et al. 2013, Bayesian Data Analysis, section 2.5).
func Shrink(own []float64, class ForcingClass) ForcingNeed {
	n := float64(len(own))
	if n == 0 {
		return ForcingNeed{Mean: class.Mean, Unsure: class.Between, Within: class.Within}
	}
	m := mean(own)
	squares := 0.0
	for _, v := range own {
		squares += (v - m) * (v - m)
	}
	within := (withinYears*class.Within*class.Within + squares) / (withinYears + n - 1)
	prior := class.Between * class.Between
	if within <= 0 {
		return ForcingNeed{Mean: m, Years: len(own)}
	}
	weight := n * prior / (n*prior + within)
	return ForcingNeed{
		Mean:   weight*m + (1-weight)*class.Mean,
		Unsure: math.Sqrt(prior * (1 - weight)),
		Within: math.Sqrt(within),
		Years:  len(own),
	}
}
