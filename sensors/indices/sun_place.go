package indices

import (
	"math"
	"time"
)

// sunPlace is the place of the sun at one instant; angles in degrees.
type sunPlace struct {
	longitude, anomaly float64 // geometric mean longitude and mean anomaly, 0 to 360
	centre             float64 // equation of the centre
	distance           float64 // in astronomical units
	apparent           float64 // apparent longitude
	obliquity          float64 // of the ecliptic, corrected for nutation
	declination        float64
	eot                float64 // equation of time, minutes
}

// centuries are Julian centuries since noon of 1 January 2000. The minute between terrestrial time and UTC moves the sun by less
// than a thousandth of a degree and is left out.
func centuries(at time.Time) float64 {
	return (float64(at.Unix())/86400 + float64(at.Nanosecond())/86400e9 - 10957.5) / 36525
}

// sunAt is the low-precision place of the sun (Meeus 1998, Astronomical Algorithms, chapters 25 and 28), good to 0.01°.
func sunAt(t float64) sunPlace {
	var p sunPlace
	p.longitude = wrap(280.46646 + t*(36000.76983+0.0003032*t))
	p.anomaly = wrap(357.52911 + t*(35999.05029-0.0001537*t))
	e := 0.016708634 - t*(0.000042037+0.0000001267*t)
	m := rad(p.anomaly)
	p.centre = (1.914602-t*(0.004817+0.000014*t))*math.Sin(m) + (0.019993-0.000101*t)*math.Sin(2*m) + 0.000289*math.Sin(3*m)
	p.distance = 1.000001018 * (1 - e*e) / (1 + e*math.Cos(rad(p.anomaly+p.centre)))
	node := rad(125.04 - 1934.136*t)
	p.apparent = p.longitude + p.centre - 0.00569 - 0.00478*math.Sin(node)
	p.obliquity = 23 + 26.0/60 + (21.448-t*(46.815+t*(0.00059-0.001813*t)))/3600 + 0.00256*math.Cos(node)
	eps := rad(p.obliquity)
	p.declination = deg(math.Asin(math.Sin(eps) * math.Sin(rad(p.apparent))))
	y := math.Tan(eps / 2)
	y *= y
	l := 2 * rad(p.longitude)
	p.eot = 4 * deg(y*math.Sin(l)-2*e*math.Sin(m)+4*e*y*math.Sin(m)*math.Cos(l)-y*y/2*math.Sin(2*l)-1.25*e*e*math.Sin(2*m))
	return p
}

func wrap(d float64) float64 {
	if d = math.Mod(d, 360); d < 0 {
		d += 360
	}
	return d
}
