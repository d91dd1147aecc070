package indices

import (
	"math"
	"time"

	"lathwatch/sensors/garden"
)

// horizonZenith is the zenith distance of the sun's centre at rise and set in degrees: 34' of refraction and 16' of disc.
const horizonZenith = 90.833

// A Sun is the sun as seen from one site: degrees north and east, and the zone in which its dates are cut.
type Sun struct {
	Latitude, Longitude float64
	Zone                *time.Location
}

// Day is the sunrise before and the sunset after the noon of a local date, within a few seconds of the long algorithm of Reda &
// Andreas 2004 between 60° south and north (Meeus 1998, chapters 25 and 28, in the short form of the NOAA solar calculator). It
// is false where the sun stays up or down all that day, as near the poles. The instants are UTC; with a zone far from the sun's
// time, or at midnight sun's edge, one of them may bear the neighbouring date.
func (s Sun) Day(d garden.Date) (rise, set time.Time, ok bool) {
	noon := s.Noon(d)
	rise, ok = s.crossing(noon, -1)
	if !ok {
		return time.Time{}, time.Time{}, false
	}
	set, ok = s.crossing(noon, 1)
	if !ok {
		return time.Time{}, time.Time{}, false
	}
	return rise, set, true
}

// Noon is when the sun stands highest nearest to noon on the clock of a local date: picked by the clock of the site, because the
// UTC day of a site far east or west begins or ends in its afternoon.
func (s Sun) Noon(d garden.Date) time.Time {
	y, m, day := d.Civil()
	clock := time.Date(y, m, day, 12, 0, 0, 0, s.Zone).UTC()
	at := clock
	for range 3 { // the equation of time moves by half a minute a day: this settles at once
		base := at.Truncate(24 * time.Hour)
		at = base.Add(minutes(720 - 4*s.Longitude - EquationOfTime(at)))
		at = at.Add(-time.Duration(math.Round(at.Sub(clock).Hours()/24)) * 24 * time.Hour)
	}
	return at
}

// crossing is when the sun crosses the horizon before (side −1) or after (side 1) a noon; the place of the sun is taken anew at
// each time found.
func (s Sun) crossing(noon time.Time, side float64) (time.Time, bool) {
	at, eotNoon := noon, EquationOfTime(noon)
	for range 6 {
		half, ok := s.halfDay(at)
		if !ok {
			return time.Time{}, false
		}
		// A later equation of time brings the sun's own noon forward.
		next := noon.Add(minutes(side*4*half - (EquationOfTime(at) - eotNoon)))
		if d := next.Sub(at).Abs(); d < 100*time.Millisecond {
			return next, true
		}
		at = next
	}
	return at, true
}

// halfDay is the hour angle of rise and set in degrees for the declination at an instant.
func (s Sun) halfDay(at time.Time) (float64, bool) {
	lat, dec := rad(s.Latitude), rad(Declination(at))
	c := math.Cos(rad(horizonZenith))/(math.Cos(lat)*math.Cos(dec)) - math.Tan(lat)*math.Tan(dec)
	if !(c >= -1 && c <= 1) {
		return 0, false
	}
	return deg(math.Acos(c)), true
}

// Elevation is the height of the sun's centre above the horizon in degrees at an instant, without refraction.
func (s Sun) Elevation(at time.Time) float64 {
	p := sunAt(centuries(at))
	day := at.UTC().Sub(at.UTC().Truncate(24 * time.Hour)).Minutes()
	hour := rad((day+p.eot)/4 + s.Longitude - 180)
	lat, dec := rad(s.Latitude), rad(p.declination)
	return deg(math.Asin(math.Sin(lat)*math.Sin(dec) + math.Cos(lat)*math.Cos(dec)*math.Cos(hour)))
}

// Declination is how far north of the equator the sun stands, in degrees.
func Declination(at time.Time) float64 { return sunAt(centuries(at)).declination }

// EquationOfTime is how far the sun's clock is ahead of the mean one, in minutes, −14.3 to 16.5.
func EquationOfTime(at time.Time) float64 { return sunAt(centuries(at)).eot }

func minutes(m float64) time.Duration { return time.Duration(math.Round(m * float64(time.Minute))) }
func rad(d float64) float64           { return d * math.Pi / 180 }
func deg(r float64) float64           { return r * 180 / math.Pi }
