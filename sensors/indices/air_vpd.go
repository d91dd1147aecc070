package indices

import "math"

// SaturationFAO is the saturation vapour pressure in kPa at t °C, over water at any temperature (FAO-56 equation 11).
func SaturationFAO(t float64) float64 { return 0.6108 * math.Exp(17.27*t/(t+237.3)) }

// VPD is how much more vapour the air could take, in kPa, at t °C and rh % over water (FAO-56 equation 11). Humidities outside
// 0 to 100 are taken as the nearer limit, since probes overshoot in fog.
func VPD(t, rh float64) float64 { return SaturationFAO(t) * (1 - min(max(rh, 0), 100)/100) }

// DayAir is a day of air in its four extremes: temperatures in °C, humidities in % over water.
type DayAir struct{ TMin, TMax, RHMin, RHMax float64 }

// Saturation is the day's mean saturation vapour pressure in kPa, the mean at both extremes and not the pressure at the mean
// temperature, which is lower (FAO-56 equation 12).
func (d DayAir) Saturation() float64 { return (SaturationFAO(d.TMax) + SaturationFAO(d.TMin)) / 2 }

// Vapour is the day's actual vapour pressure in kPa (FAO-56 equation 17).
func (d DayAir) Vapour() float64 {
	return (SaturationFAO(d.TMin)*d.RHMax + SaturationFAO(d.TMax)*d.RHMin) / 200
}

// VapourOfMeanRH is the poorer estimate from the mean of the two humidities (FAO-56 equation 19).
func (d DayAir) VapourOfMeanRH() float64 { return (d.RHMax + d.RHMin) / 200 * d.Saturation() }

// VPD is the day's vapour pressure deficit in kPa.
func (d DayAir) VPD() float64 { return d.Saturation() - d.Vapour() }
