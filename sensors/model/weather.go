package model

import (
	"math"
	"time"

	"lathwatch/sensors/garden"
)

// Sky is the weather at one instant, over open ground.
type Sky struct {
	Air   float64 // °C
	Dew   float64 // °C
	Cloud float64 // 0 clear .. 1 overcast
	Wind  float64 // m/s
	Rain  float64 // mm/h, as water, snow included
	Sun   float64 // W/m² on the flat
	Night bool
}

// deficit is the vapour pressure deficit in kPa of air at t with this dew point (Tetens, as in Allen et al. 1998, FAO
// Irrigation and Drainage Paper 56, equation 11).
func deficit(t, dew float64) float64 { return max(0, saturation(t)-saturation(dew)) }

func saturation(t float64) float64 { return 0.6108 * math.Exp(17.27*t/(t+237.3)) }

// humidity is relative humidity, 0..1.
func humidity(t, dew float64) float64 { return min(1, saturation(dew)/saturation(t)) }

// climate makes weather. It keeps the last day's and hour's numbers, nothing else.
type climate struct {
	noise    noise
	lat      float64 // radians
	lon      float64 // degrees
	shift    float64 // days from the northern year
	cal      garden.Calendar
	day      int64
	days     [2]daily // of this day and the next, at their noons
	hour     int64
	gust     float64 // hour's wobble of the air
	shower   float64
	stranded bool // no day computed yet
}

type daily struct{ warm, cloud, wind float64 }

func newClimate(site garden.Site, seed uint64) *climate {
	c := &climate{noise: noise(seed), lat: 54 * math.Pi / 180, stranded: true, cal: garden.Calendar{Zone: site.Zone}}
	if c.cal.Zone == nil {
		c.cal.Zone = time.UTC
	}
	if !math.IsNaN(site.Latitude) {
		c.lat = site.Latitude * math.Pi / 180
	}
	if !math.IsNaN(site.Longitude) {
		c.lon = site.Longitude
	}
	if south, _ := site.South(); south {
		c.shift, c.cal.South = 182, true
	}
	return c
}

// spell is a planned turn of the weather in every year: degrees added around a day of the plants' year, with its sky.
type spell struct {
	from, until int // days after 1 January, northern calendar
	warm        float64
	clear       bool
}

var spells = []spell{
	{-24, -19, -4, true},  // early December: a first frost
	{8, 15, -8, true},     // mid January: the long frost
	{36, 40, 9.5, false},  // early February: the mild spell
	{98, 100, -4.5, true}, // April: clear cold nights over open shoots
}

// sky gives the weather at an instant.
func (c *climate) sky(t time.Time) Sky {
	solar := float64(t.Unix())/86400 + c.lon/360 // days since 1970 by the sun
	c.load(t, solar)
	noon := math.Floor(solar-0.5) + 0.5
	f := 0.5 - 0.5*math.Cos(math.Pi*(solar-noon))
	mix := func(a, b float64) float64 { return a + (b-a)*f }
	d := daily{mix(c.days[0].warm, c.days[1].warm), mix(c.days[0].cloud, c.days[1].cloud), mix(c.days[0].wind, c.days[1].wind)}

	year := math.Mod(solar+c.shift, 365.2425) // 1970-01-01 was day 0
	season := -math.Cos(2 * math.Pi * (year - 19) / 365.2425)
	swing := (1 - 0.75*d.cloud) * (4.2 + 2.6*season)
	hour := 24 * (solar - math.Floor(solar))
	day := math.Cos(2 * math.Pi * (hour - 14.5) / 24)
	sin := c.height(year, hour)
	s := Sky{Cloud: d.cloud, Wind: d.wind * (0.8 + 0.25*day), Night: sin < 0}
	s.Air = 8.6 + 7.9*season + d.warm + swing*day + 0.35*c.gust
	s.Dew = min(s.Air, 8.6+7.9*season+0.9*d.warm-0.55*swing-2.6*(1-d.cloud)-0.6+0.2*c.gust)
	s.Sun = 930 * math.Pow(max(0, sin), 1.15) * (1 - 0.72*d.cloud)
	if over := c.shower - (2.5 - 1.9*d.cloud); over > 0 {
		s.Rain = 1.5 * math.Pow(over, 1.3)
	}
	return s
}

// height is the sine of the sun's height.
func (c *climate) height(year, hour float64) float64 {
	lat := c.lat
	if c.shift > 0 {
		lat = -lat
	}
	decl := -23.44 * math.Pi / 180 * math.Cos(2*math.Pi*(year+10)/365.2425)
	return math.Sin(lat)*math.Sin(decl) + math.Cos(lat)*math.Cos(decl)*math.Cos(2*math.Pi*(hour-12)/24)
}

func (c *climate) load(t time.Time, solar float64) {
	if day := int64(math.Floor(solar - 0.5)); day != c.day || c.stranded {
		c.day = day
		c.days = [2]daily{c.daily(day), c.daily(day + 1)}
	}
	if hour := t.Unix() / 3600; hour != c.hour || c.stranded {
		c.hour = hour
		c.gust = c.noise.red(hourly, hour, 0.8)
		c.shower = c.noise.red(showers, hour, 0.85)
	}
	c.stranded = false
}

// daily gives a day's own weather: how far from the season, how cloudy, how windy.
func (c *climate) daily(day int64) daily {
	warm := c.noise.red(synoptic, day, 0.78)
	cloud := 0.6 + 1.3*c.noise.red(cloudiness, day, 0.5) + 0.35*warm
	d := daily{warm: 2.7 * warm, wind: 2.3 * math.Exp(0.5*c.noise.red(breeze, day, 0.5))}
	northern := c.cal.Northern(garden.Date(day))
	year, _, _ := (northern + 60).Civil() // a spell of December belongs to the year to come
	january := int(garden.Calendar{Zone: time.UTC}.DateOf(time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC)))
	for i, s := range spells {
		move := int(9*c.noise.even(character, int64(year*16+i))) - 4
		into := int(northern) - january - s.from - move
		left := s.until - s.from - into
		if into < -1 || left < -1 {
			continue
		}
		edge := min(1, float64(min(into, left)+2)/2)
		d.warm = d.warm*(1-0.7*edge) + s.warm*edge
		if s.clear {
			cloud, d.wind = cloud-2.6*edge, d.wind*(1-0.55*edge)
		} else {
			cloud += 0.8 * edge
		}
	}
	d.cloud = 1 / (1 + math.Exp(-cloud))
	return d
}
