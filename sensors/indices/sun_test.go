package indices

import (
	"math"
	"testing"
	"time"

	"lathwatch/sensors/checks"
	"lathwatch/sensors/garden"

	"pgregory.net/rapid"
)

func TestThePlaceOfTheSunFollowsMeeus(t *testing.T) {
	var in struct{ JDE float64 }
	checks.Input(t, "sun-meeus25a", &in)
	p := sunAt((in.JDE - 2451545) / 36525)
	checks.Is(t, "sun-meeus25a", map[string]float64{"L0": p.longitude, "M": p.anomaly, "C": p.centre, "R": p.distance,
		"lambda": p.apparent, "eps": p.obliquity, "delta": p.declination})
	checks.Input(t, "sun-meeus28", &in)
	checks.Is(t, "sun-meeus28", sunAt((in.JDE-2451545)/36525).eot)
}

func TestThePlaceOfTheSunFollowsTheLongAlgorithm(t *testing.T) {
	var in struct{ UT time.Time }
	checks.Input(t, "sun-spa", &in)
	checks.Is(t, "sun-spa", map[string]float64{"delta": Declination(in.UT), "eot_min": EquationOfTime(in.UT)})
	// The example's topocentric zenith there is 50.11162° at 39.742476° N, 105.1786° W, with 0.016° of refraction and parallax.
	site := Sun{Latitude: 39.742476, Longitude: -105.1786, Zone: time.UTC}
	if got := site.Elevation(in.UT); math.Abs(got-(90-50.11162)) > 0.03 {
		t.Errorf("elevation %.4f°, published zenith 50.11162° (from memory)", got)
	}
}

// siteDay is one row of a rise-and-set table.
type siteDay struct {
	Date     string
	Lat, Lon float64
	Hours    float64 `json:"tz_h"`
}

func (s siteDay) sun() Sun {
	return Sun{s.Lat, s.Lon, time.FixedZone("", int(3600*s.Hours))}
}

func dateOf(t *testing.T, s string) garden.Date {
	t.Helper()
	at, err := time.Parse(time.DateOnly, s)
	if err != nil {
		t.Fatal(err)
	}
	return garden.Calendar{Zone: time.UTC}.DateOf(at)
}

// clock is seconds after midnight of the site's own standard time, and the date they belong to.
func clock(t *testing.T, s Sun, at time.Time, want string) float64 {
	t.Helper()
	local := at.In(s.Zone)
	if got := local.Format(time.DateOnly); got != want {
		t.Errorf("%v belongs to %s, asked for %s", local, got, want)
	}
	y, m, d := local.Date()
	return local.Sub(time.Date(y, m, d, 0, 0, 0, 0, s.Zone)).Seconds()
}

func riseAndSet(t *testing.T, id string) map[string]float64 {
	t.Helper()
	var in siteDay
	checks.Input(t, id, &in)
	s := in.sun()
	rise, set, ok := s.Day(dateOf(t, in.Date))
	if !ok {
		t.Fatalf("%s: the sun does not rise", id)
	}
	return map[string]float64{"rise_s": clock(t, s, rise, in.Date), "set_s": clock(t, s, set, in.Date)}
}

func TestRiseAndSetFollowTheLongAlgorithm(t *testing.T) {
	checks.Is(t, "sun-rs-1996-07-05", riseAndSet(t, "sun-rs-1996-07-05"))
	checks.Is(t, "sun-rs-2004-12-04", riseAndSet(t, "sun-rs-2004-12-04"))
	checks.Is(t, "sun-rs-1994-01-02", riseAndSet(t, "sun-rs-1994-01-02"))
	checks.Is(t, "sun-rs-2015-01-02", riseAndSet(t, "sun-rs-2015-01-02"))
}

// A library's table holds, under one date, the sunset inside the UTC day: seven hours west of Greenwich that is the evening
// before. By local date there is no such slip: its figure is the evening of the 1st, and the evening of the 2nd is the almanac's.
func TestRiseAndSetBelongToTheLocalDate(t *testing.T) {
	var in struct {
		siteDay
		SetDate string `json:"set_date"`
	}
	checks.Input(t, "sun-rs-2015-08-02", &in)
	s := in.sun()
	rise, set, _ := s.Day(dateOf(t, in.Date))
	_, before, _ := s.Day(dateOf(t, in.SetDate))
	checks.Is(t, "sun-rs-2015-08-02", map[string]float64{"rise_s": clock(t, s, rise, in.Date),
		"set_s_of_set_date": clock(t, s, before, in.SetDate), "set_min_of_date": clock(t, s, set, in.Date) / 60})
}

func almanac(t *testing.T, id string) [][2]float64 {
	t.Helper()
	var in struct {
		siteDay
		Dates []string
	}
	checks.Input(t, id, &in)
	s := in.sun()
	var out [][2]float64
	for _, date := range in.Dates {
		rise, set, _ := s.Day(dateOf(t, date))
		out = append(out, [2]float64{clock(t, s, rise, date) / 60, clock(t, s, set, date) / 60})
	}
	return out
}

func TestRiseAndSetFollowTheAlmanac(t *testing.T) {
	checks.Is(t, "sun-usno-39.0", almanac(t, "sun-usno-39.0"))
	checks.Is(t, "sun-usno-39.917", almanac(t, "sun-usno-39.917"))
}

func TestThePolesHaveDaysWithoutRise(t *testing.T) {
	for _, tc := range []struct {
		lat  float64
		date string
		ok   bool
	}{{70, "2026-06-21", false}, {70, "2026-12-21", false}, {-70, "2026-12-21", false}, {70, "2026-03-20", true}, {65, "2026-12-21", true}, {90, "2026-06-21", false}} {
		if _, _, ok := (Sun{tc.lat, 25, time.UTC}).Day(dateOf(t, tc.date)); ok != tc.ok {
			t.Errorf("%v° on %s: got %v", tc.lat, tc.date, ok)
		}
	}
}

func TestSunriseSunsetAndDaylightHangTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Sun{Latitude: rapid.Float64Range(-60, 60).Draw(t, "lat"), Longitude: rapid.Float64Range(-180, 180).Draw(t, "lon")}
		s.Zone = time.FixedZone("", 3600*int(math.Round(s.Longitude/15)))
		cal := garden.Calendar{Zone: s.Zone}
		d := garden.Date(rapid.IntRange(18000, 30000).Draw(t, "date"))
		rise, set, ok := s.Day(d)
		noon := s.Noon(d)
		if !ok || !rise.Before(noon) || !noon.Before(set) || cal.DateOf(rise) != d || cal.DateOf(noon) != d || cal.DateOf(set) != d {
			t.Fatalf("%v on %v: %v, %v, %v", s, d, rise, noon, set)
		}
		for _, at := range []time.Time{rise, set} {
			if e := s.Elevation(at); math.Abs(e+horizonZenith-90) > 0.005 {
				t.Errorf("%v on %v: the sun stands at %.4f° at %v", s, d, e, at)
			}
		}
		// FAO-56 leaves out refraction and disc: about 7 minutes at the equator, 20 at 60° in June. Its declination is up to 0.9° off
		// near the equinoxes, which is as much again at 60°.
		y, _, _ := d.Civil()
		j := int(d-cal.DateOf(time.Date(y, 1, 1, 12, 0, 0, 0, s.Zone))) + 1
		longer := set.Sub(rise).Hours() - SunDay{s.Latitude, j}.Daylight()
		if longer*60 < -8 || longer*60 > 35 {
			t.Errorf("%v on %v: %.1f min longer than the simple daylight", s, d, longer*60)
		}
	})
}
