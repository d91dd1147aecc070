package indices

import "math"

// Air figures use one set of formulae for what a probe says: WMO-No. 8 (Guide to Instruments and Methods of Observation), Annex
// 4.B, without the enhancement factor, which is under half a per cent and far below a probe's own error. Evaporation uses the
// set of FAO-56, because its other coefficients were fitted with it. Every probe reports relative humidity over water, also
// below 0 °C.

// SaturationWater is the saturation vapour pressure over water in hPa at t °C, −45 to 60 °C (WMO-No. 8, Annex 4.B).
func SaturationWater(t float64) float64 { return 6.112 * math.Exp(17.62*t/(243.12+t)) }

// SaturationIce is the saturation vapour pressure over ice in hPa at t °C, −65 to 0 °C (WMO-No. 8, Annex 4.B).
func SaturationIce(t float64) float64 { return 6.112 * math.Exp(22.46*t/(272.62+t)) }

// Enhancement is the factor by which moist air of pressure p hPa holds more than pure vapour (WMO-No. 8, Annex 4.B). It is not
// applied to probe readings.
func Enhancement(p float64) float64 { return 1.0016 + 3.15e-6*p - 0.074/p }

// DewPoint is the temperature in °C at which air of t °C and rh % (over water) is saturated over water. It is false for a
// humidity that is not above 0 %.
func DewPoint(t, rh float64) (float64, bool) {
	if !(rh > 0) {
		return 0, false
	}
	return DewOf(SaturationWater(t) * rh / 100), true
}

// FrostPoint is the temperature in °C at which air of t °C and rh % (over water) is saturated over ice. It is false when the
// dew point is not below 0 °C, where hoar cannot form, and for a humidity that is not above 0 %.
func FrostPoint(t, rh float64) (float64, bool) {
	td, ok := DewPoint(t, rh)
	if !ok || td >= 0 {
		return 0, false
	}
	return FrostOf(SaturationWater(t) * rh / 100), true
}

// DewOf is the dew point in °C of a vapour pressure in hPa above 0 (WMO-No. 8, Annex 4.B, solved for temperature).
func DewOf(e float64) float64 {
	x := math.Log(e / 6.112)
	return 243.12 * x / (17.62 - x)
}

// FrostOf is the frost point in °C of a vapour pressure in hPa, above 0 and at most 6.112.
func FrostOf(e float64) float64 {
	x := math.Log(e / 6.112)
	return 272.62 * x / (22.46 - x)
}

// FrostOfDew turns a dew point below 0 °C into the frost point at the same vapour pressure, which lies above it.
func FrostOfDew(td float64) float64 { return FrostOf(SaturationWater(td)) }

// HumidityOfDew is the relative humidity in % over water of air at t °C with dew point td °C.
func HumidityOfDew(t, td float64) float64 { return 100 * SaturationWater(td) / SaturationWater(t) }

// WetBulbVapour is the vapour pressure in kPa from a dry and a wet bulb in °C at pressure p kPa; a is the instrument's
// coefficient in 1/K, 0 meaning 0.000662 for a ventilated one (FAO-56 equation 15).
func WetBulbVapour(dry, wet, p, a float64) float64 {
	if a == 0 {
		a = 0.000662
	}
	return SaturationFAO(wet) - a*p*(dry-wet)
}

// PressureAt is the mean air pressure in kPa at z metres above the sea (FAO-56 equation 7).
func PressureAt(z float64) float64 { return 101.3 * math.Pow((293-0.0065*z)/293, 5.26) }

// PsychrometricConstant is in kPa/K at pressure p kPa (FAO-56 equation 8).
func PsychrometricConstant(p float64) float64 { return 0.000665 * p }
