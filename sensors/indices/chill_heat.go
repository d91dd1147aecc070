package indices

import "math"

// Constants of the asymmetric curve, °C: nothing at the base, most at the optimum, nothing again at the ceiling.
const gdhBase, gdhOptimum, gdhCeiling = 4.0, 25.0, 36.0

// GDH is the growing-degree-hours of one hour at t °C, 0 to 21, by the asymmetric cosine curve (Anderson, Richardson & Kesner
// 1986).
func GDH(t float64) float64 {
	const span = gdhOptimum - gdhBase
	switch {
	case t <= gdhBase || t >= gdhCeiling:
		return 0
	case t <= gdhOptimum:
		return span / 2 * (1 + math.Cos(math.Pi+math.Pi*(t-gdhBase)/span))
	}
	return span * (1 + math.Cos(math.Pi/2+math.Pi/2*(t-gdhOptimum)/(gdhCeiling-gdhOptimum)))
}

// GDHLinear is the older growing-degree-hours of one hour at t °C: degrees above 4.5, no more than at 25 °C (Richardson et al.
// 1975).
func GDHLinear(t float64) float64 { return max(min(t, 25)-4.5, 0) }
