package model

import (
	"cmp"
	"math"
	"slices"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// Steps of the simulated parts: a digital thermometer's sixteenth of a degree, a converter's 125 µV, a gauge's 0.2 mm.
var (
	sixteenth = units.Step{Unit: units.Temperature, Num: 125, Den: 2}
	converter = units.Step{Unit: units.Voltage, Num: 125, Den: 1}
	tipping   = units.Step{Unit: units.Length, Num: 200, Den: 1}
)

type probe struct {
	*garden.Probe
	pot, place int
	bias       float64 // its own error, in its unit
	own        int64   // its place in the noise
	held       int64   // raw count a stuck probe holds
	stuck      bool
}

// sense sets up the probes that answer, in order of id.
func (m *Model) sense() {
	all := !slices.ContainsFunc(m.garden.Probes, func(p garden.Probe) bool { return p.Source.Name == "simulated" })
	for i := range m.garden.Probes {
		p := &m.garden.Probes[i]
		if all || p.Source.Name == "simulated" {
			m.probes = append(m.probes, probe{Probe: p, pot: m.potIndex(p.Pot), place: m.placeIndex(p.Place), own: hash(p.ID), bias: m.noise.gauss(character, 2000+int64(i))})
		}
	}
	slices.SortFunc(m.probes, func(a, b probe) int { return cmp.Compare(a.ID, b.ID) })
}

func (m *Model) round(t time.Time) sensors.Round {
	r := sensors.Round{At: t.UTC()}
	day := m.yearDay(t)
	if dark(day) {
		return r
	}
	r.Readings = make([]sensors.Reading, 0, len(m.probes))
	for i := range m.probes {
		p := &m.probes[i]
		if p.Every > 0 && t.Unix()%int64(p.Every/time.Second) != 0 {
			continue
		}
		if f, bad := m.plan.fault(m, i, t, day); bad {
			r.Faults = append(r.Faults, f)
			continue
		}
		raw, step := m.ask(p, t)
		if m.plan.stuck(i, day) {
			if !p.stuck {
				p.held, p.stuck = raw, true
			}
			raw = p.held
		} else {
			p.stuck = false
		}
		r.Readings = append(r.Readings, sensors.Reading{Probe: p.ID, Raw: raw, Step: step})
	}
	return r
}

// ask is what a sound probe says: the truth, its own error, a little noise, in its own steps.
func (m *Model) ask(p *probe, t time.Time) (int64, units.Step) {
	n := m.noise.gauss(sensing, t.Unix()^p.own)
	switch p.Measures {
	case garden.PotMoisture:
		return m.moisture(p, n)
	case garden.PotTemperature:
		return counts(m.core(p.pot)+0.12*p.bias+0.02*n, 1000, sixteenth)
	case garden.AirTemperature:
		return counts(m.airAt(p.place)+0.12*p.bias+0.03*n, 1000, sixteenth)
	case garden.AirHumidity:
		air := m.airAt(p.place)
		return counts(min(1, humidity(air, min(air, m.now.Dew))+0.008*p.bias+0.003*n), 1000, units.Whole(units.Humidity))
	case garden.Rain:
		return m.gauge(p)
	case garden.Wind:
		return counts(max(0, m.now.Wind*0.5+0.1*n), 1000, units.Whole(units.Speed))
	case garden.Light:
		return counts(max(0, m.now.Sun*110*0.15), 1, units.Whole(units.Light))
	case garden.AirPressure:
		return counts(101300-120*(m.now.Cloud-0.5)*10+3*n, 1, units.Whole(units.Pressure))
	case garden.ForecastMin:
		return counts(m.coming(p.place, t)+0.8*p.bias, 1000, units.Whole(units.Temperature))
	case garden.PotWeight:
		return m.weight(p, n)
	case garden.Battery:
		return counts(0.93-0.002*math.Max(0, 10-m.airAt(p.place)), 1000, units.Whole(units.Charge))
	case garden.Supply:
		return counts(3.3+0.002*n, 1e6, converter)
	}
	return counts(70+2*n, 1, units.Whole(units.Count)) // a link's quality
}

// counts quantises a value in its printed unit.
func counts(v, perUnit float64, s units.Step) (int64, units.Step) {
	return int64(math.Round(v * perUnit * float64(s.Den) / float64(s.Num))), s
}

func hash(id sensors.ProbeID) int64 {
	h := int64(1469598103934665603)
	for i := range len(id) {
		h = (h ^ int64(id[i])) * 1099511628211
	}
	return h
}

func (m *Model) core(pot int) float64 {
	if pot < 0 {
		return m.now.Air
	}
	return m.pots[pot].core()
}

// moisture is a capacitive board's answer: falling with wetness, a little with the warmth of its parts, and taking ice for air.
func (m *Model) moisture(p *probe, n float64) (int64, units.Step) {
	seen, warm := 0.0, 8.0
	if p.pot >= 0 {
		s := &m.pots[p.pot]
		seen, warm = s.apparent(), s.core()
		if s.harmed {
			seen = 0.12
		}
	}
	seen += 0.0012*(warm-8) + 0.0025*n
	switch p.Unit {
	case units.Moisture:
		return counts(max(0, seen), 1000, units.Whole(units.Moisture))
	case units.Count:
		return counts(820-410*seen, 1, units.Whole(units.Count))
	case units.Ratio:
		return counts((2.6-1.4*seen)/3.3, 1e6, units.Whole(units.Ratio))
	}
	return counts(2.6-1.4*seen, 1e6, converter)
}

// gauge empties a tipping bucket: whole tips since it was last asked.
func (m *Model) gauge(p *probe) (int64, units.Step) {
	if p.place < 0 {
		return 0, tipping
	}
	pl := &m.places[p.place]
	tips := math.Floor(pl.rain / 0.2)
	pl.rain -= tips * 0.2
	return int64(tips), tipping
}

func (m *Model) weight(p *probe, n float64) (int64, units.Step) {
	if p.pot < 0 {
		return 0, units.Whole(units.Mass)
	}
	s := &m.pots[p.pot]
	return counts(s.volume()*620e3+s.water()*1000+2*n, 1, units.Whole(units.Mass))
}

// coming is the true lowest air of the place until the next noon, by the hour.
func (m *Model) coming(place int, t time.Time) float64 {
	end := m.cal.Start(m.cal.Night(t) + 1).Add(12 * time.Hour)
	ahead := *m.sky
	low := math.Inf(1)
	for h := t.Truncate(time.Hour); !h.After(end); h = h.Add(time.Hour) {
		s := ahead.sky(h)
		air := s.Air
		if still := (1 - s.Cloud) * math.Exp(-s.Wind/2.5); s.Night && place >= 0 && m.places[place].roof {
			air -= 0.5 * still
		} else if s.Night {
			air -= 2.9 * still
		}
		low = min(low, air)
	}
	return low
}
