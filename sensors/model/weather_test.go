package model

import (
	"math"
	"testing"
	"time"

	"lathwatch/sensors/garden"
)

// Allen et al. 1998, FAO Irrigation and Drainage Paper 56, example 3: saturation vapour pressure at 24.5 °C is 3.075 kPa, at
// 15 °C 1.705 kPa.
func TestSaturationAsInFAO56(t *testing.T) {
	for c, want := range map[float64]float64{24.5: 3.075, 15: 1.705} {
		if got := saturation(c); math.Abs(got-want) > 0.0006 {
			t.Errorf("%v °C: %.4f kPa, want %v", c, got, want)
		}
	}
	if d := deficit(20, 20); d != 0 {
		t.Errorf("saturated air wants %v kPa", d)
	}
}

// Astronomy: at the solstices the noon sun stands 90° minus the latitude, plus and minus 23.44°.
func TestTheNoonSunStandsWhereItShould(t *testing.T) {
	c := newClimate(garden.Site{Latitude: 55.4, Longitude: 0, Zone: time.UTC}, 1)
	for year, tilt := range map[float64]float64{171.5: 23.44, 354.5: -23.44} { // days after 1 January
		want := 90 - 55.4 + tilt
		if got := math.Asin(c.height(year, 12)) * 180 / math.Pi; math.Abs(got-want) > 0.2 {
			t.Errorf("day %v: %.2f°, want %.2f°", year, got, want)
		}
	}
}

// Thirty simulated years look like a maritime edge of a continent: winters about nought, summers mild, rain in all of it.
func TestThirtyYearsAreAClimate(t *testing.T) {
	var sum, n [12]float64
	rain, hours := 0.0, 0.0
	coldest, warmest := 99.0, -99.0
	for seed := uint64(1); seed <= 10; seed++ {
		c := newClimate(garden.Site{Latitude: 55.4, Longitude: 9, Zone: time.UTC}, seed)
		for at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC); at.Year() < 2027; at = at.Add(time.Hour) {
			s := c.sky(at)
			m := at.Month() - 1
			sum[m], n[m], rain, hours = sum[m]+s.Air, n[m]+1, rain+s.Rain, hours+1
			coldest, warmest = min(coldest, s.Air), max(warmest, s.Air)
			if s.Dew > s.Air || s.Cloud < 0 || s.Cloud > 1 || s.Wind < 0 || s.Rain < 0 || s.Sun < 0 || s.Night && s.Sun > 0 {
				t.Fatalf("%v: %+v", at, s)
			}
		}
	}
	jan, jul, year := sum[0]/n[0], sum[6]/n[6], rain/hours*8766
	if jan < -4 || jan > 3 || jul < 14 || jul > 19 || year < 400 || year > 1200 || coldest < -25 || warmest > 36 {
		t.Errorf("January %.1f °C, July %.1f °C, %.0f mm a year, %.1f to %.1f °C", jan, jul, year, coldest, warmest)
	}
	t.Logf("January %.1f °C, July %.1f °C, %.0f mm a year, %.1f to %.1f °C", jan, jul, year, coldest, warmest)
}
