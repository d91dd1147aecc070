package indices

import "math"

// solarConstant is in MJ per m² and minute, as FAO-56 uses it.
const solarConstant = 0.0820

// A SunDay is a day of the year J, 1 to 366, at a latitude in degrees north, by the simple series of FAO-56. It leaves out
// refraction and the sun's disc, so its day is some minutes shorter than from rise to set.
type SunDay struct {
	Latitude float64
	J        int
}

// Distance is the inverse relative distance to the sun (FAO-56 equation 23).
func (d SunDay) Distance() float64 { return 1 + 0.033*math.Cos(2*math.Pi/365*float64(d.J)) }

// Declination is in radians (FAO-56 equation 24).
func (d SunDay) Declination() float64 { return 0.409 * math.Sin(2*math.Pi/365*float64(d.J)-1.39) }

// SunsetAngle is the hour angle of sunset in radians: 0 in polar night, π in polar day (FAO-56 equation 25).
func (d SunDay) SunsetAngle() float64 {
	return math.Acos(min(max(-math.Tan(rad(d.Latitude))*math.Tan(d.Declination()), -1), 1))
}

// Daylight is the longest possible sunshine in hours (FAO-56 equation 34).
func (d SunDay) Daylight() float64 { return 24 / math.Pi * d.SunsetAngle() }

// Extraterrestrial is the radiation above the air in MJ per m² and day (FAO-56 equation 21).
func (d SunDay) Extraterrestrial() float64 {
	lat, dec, ws := rad(d.Latitude), d.Declination(), d.SunsetAngle()
	return 24 * 60 / math.Pi * solarConstant * d.Distance() *
		(ws*math.Sin(lat)*math.Sin(dec) + math.Cos(lat)*math.Cos(dec)*math.Sin(ws))
}

// RadiationOfRange guesses the radiation at the ground from the day's range of temperature in K and the radiation ra above the
// air, in its unit; k is 0.16 inland and 0.19 by the sea (FAO-56 equation 50).
func RadiationOfRange(ra, span, k float64) float64 { return k * math.Sqrt(max(span, 0)) * ra }

// HargreavesSamani is the reference evapotranspiration in mm a day from a day's mean, highest and lowest temperature in °C and
// the radiation ra above the air in MJ per m² and day; never below 0 (Hargreaves & Samani 1985, FAO-56 equation 52). Under a roof
// or by a wall it only ranks days.
func HargreavesSamani(mean, high, low, ra float64) float64 {
	return max(0.0023*(mean+17.8)*math.Sqrt(max(high-low, 0))*0.408*ra, 0)
}
