package alerts_test

import (
	"math"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// twoPlaces is a roofed table and a shaded wall, each with a thermometer, and a forecast where asked.
func twoPlaces(forecastAt string) *garden.Garden {
	g := &garden.Garden{Site: garden.Site{ID: "t", Latitude: 52, Longitude: 0, Zone: time.UTC},
		Places: []garden.Place{{ID: "table", Roof: true}, {ID: "wall", Shaded: true}},
		Probes: []garden.Probe{{ID: "a-table", Measures: garden.AirTemperature, Place: "table"}, {ID: "b-wall", Measures: garden.AirTemperature, Place: "wall"}}}
	if forecastAt != "" {
		g.Probes = append(g.Probes, garden.Probe{ID: "c-forecast", Measures: garden.ForecastMin, Place: forecastAt})
	}
	return g
}

// spring feeds nights of different falls up to a moment of the last day and gives what is known then. dead is from when the wall's
// thermometer says 0.0 °C for ever; zero: never.
func spring(g *garden.Garden, nights int, until time.Duration, forecast int64, dead time.Duration) *alerts.Standing {
	f := alerts.NewFold()
	start := time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)
	f.Garden(start, g)
	last := start.AddDate(0, 0, nights)
	for at := start; !at.After(last.Add(until)); at = at.Add(10 * time.Minute) {
		day := at.Sub(start).Hours() / 24
		warm := 3 * math.Sin(1.7*math.Floor(day+0.5)) // each night its own level, turning at noon
		wave := math.Cos(2 * math.Pi * (day - 0.625)) // highest at 15:00
		v := int64(1000 * (6 + warm + 4*wave))
		r := &sensors.Round{At: at, Readings: []sensors.Reading{reading("a-table", v+1500), reading("b-wall", v)}}
		if dead != 0 && at.Sub(last) >= dead {
			r.Readings[1].Raw = 0
		}
		if len(g.Probes) > 2 {
			r.Readings = append(r.Readings, reading("c-forecast", forecast))
		}
		f.Round(r)
	}
	return f.Snapshot()
}

func reading(id sensors.ProbeID, v int64) sensors.Reading {
	return sensors.Reading{Probe: id, Raw: v, Step: units.Step{Unit: units.Temperature, Num: 1, Den: 1}}
}

// Each row is a made spring whose evenings and minima follow one another exactly, so what is right is known: at 18:00 the wave
// stands at 6 + warm + 2.83 °C and falls to 2 + warm.
func TestWhatTonightIsExpectedToBring(t *testing.T) {
	const hour = time.Hour
	warm := func(night int) float64 { return 3 * math.Sin(1.7*float64(night+1)) }
	for _, c := range []struct {
		name     string
		forecast string
		nights   int
		until    time.Duration
		dead     time.Duration
		place    int
		how      string
		firm     bool
		low      float64
		near     float64
	}{
		{"own nights from the 18:00 reading", "", 20, 19 * hour, 0, 1, alerts.HowOwn, true, 2 + warm(20), 0.2},
		{"own nights under the roof", "", 20, 19 * hour, 0, 0, alerts.HowOwn, true, 3.5 + warm(20), 0.2},
		{"at 16:00 it is too early to speak", "", 20, 16 * hour, 0, 1, alerts.HowOwn, false, 2 + warm(20), 0.5},
		{"in the morning only the last minima are known", "", 20, 10 * hour, 0, 1, alerts.HowOwn, true, 2 + warm(19), 0.5},
		{"after noon the last three minima", "", 20, 13 * hour, 0, 1, alerts.HowLastMinima, false, 2 + (warm(17)+warm(18)+warm(19))/3, 0.2},
		{"few nights tell by their usual fall", "", 6, 19 * hour, 0, 1, alerts.HowFewNights, true, 2 + warm(6), 1},
		{"the first evening is a guess", "", 1, 19 * hour, 0, 1, alerts.HowFirst, true, 8.83 + warm(1) - 8, 0.2},
		{"a forecast for the place wins", "wall", 20, 19 * hour, 0, 1, alerts.HowForecast, true, -4, 0.01},
		{"a forecast for the wall serves the table, by the nights' difference", "wall", 40, 19 * hour, 0, 0, alerts.HowElsewhere, true, -2.5, 0.2},
		{"a thermometer dead at nought is not believed: the table speaks for the wall", "", 20, 19 * hour, 13 * hour, 1, alerts.HowNeighbour, true,
			3.5 + warm(20) - 0.9, 0.3},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := spring(twoPlaces(c.forecast), c.nights, c.until, -4000, c.dead)
			p := &st.Places[c.place]
			if p.ExpectedHow != c.how || p.ExpectedFirm != c.firm || !p.Expected.OK || math.Abs(p.Expected.Mid()-c.low) > c.near {
				t.Errorf("expected %.2f (%s, firm %v), want %.2f within %.2f (%s, firm %v)", p.Expected.Mid(), p.ExpectedHow, p.ExpectedFirm, c.low, c.near, c.how, c.firm)
			}
		})
	}
}

func TestLastNightsDifferenceIsKept(t *testing.T) {
	st := spring(twoPlaces(""), 5, 13*time.Hour, 0, 0)
	if o := st.Places[0].Offset; !o.OK || math.Abs(o.Mid()-1.5) > 0.01 {
		t.Errorf("table minus wall %+v, want 1.5", o)
	}
	if st.Places[1].Offset.OK {
		t.Error("the reference place has a difference from itself")
	}
}
