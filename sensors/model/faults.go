package model

import (
	"slices"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// plan says which probes fail, when in the plants' year. Days are season days: 0 is 1 September, 2 or 3 March in the south.
type plan struct {
	stuckProbe  int // a thermometer that says the same for nine days
	silentProbe int // one day without an answer
	powerOn     []int
	dripPot     int // a leak in the roof over it
	crackPot    int // its moisture probe does not survive the ice
	mended      map[int]garden.Date
}

const (
	stuckFrom, stuckUntil = 80, 89 // late November
	dripDay               = 101    // a night in December
	silentFrom            = 126.3  // early January
	silentUntil           = 127.5  // 29 hours
	darkFrom              = 172    // a night in February, see dark
)

var powerOnDays = []int{94, 151, 190}

func newPlan(m *Model) plan {
	p := plan{stuckProbe: -1, silentProbe: -1, dripPot: -1, crackPot: -1, mended: map[int]garden.Date{}}
	var therms, moist, air []int
	for i := range m.probes {
		switch m.probes[i].Measures {
		case garden.PotTemperature:
			therms = append(therms, i)
		case garden.PotMoisture:
			moist = append(moist, i)
		case garden.AirTemperature:
			air = append(air, i)
		}
	}
	pick := func(of []int, i int64) int {
		if len(of) == 0 {
			return -1
		}
		return of[m.noise.bits(character, 6000+i)%uint64(len(of))]
	}
	p.stuckProbe, p.silentProbe, p.powerOn = pick(therms, 0), pick(air, 1), therms[:min(3, len(therms))]
	var dry, all []int // pots with a moisture probe
	for _, i := range moist {
		if k := m.probes[i].pot; k >= 0 {
			all = append(all, k)
			if m.regime(k) == "dry-winter" {
				dry = append(dry, k)
			}
		}
	}
	p.dripPot, p.crackPot = pick(dry, 2), pick(all, 3)
	return p
}

func (m *Model) regime(pot int) string {
	if r := m.garden.Pots[pot].Regime; r != "" {
		return r
	}
	if p := m.garden.Plant(m.garden.Pots[pot].Plant); p != nil {
		return p.Regime
	}
	return ""
}

// yearDay is the season day of an instant with its part of the day.
func (m *Model) yearDay(t time.Time) float64 {
	d := m.cal.DateOf(t)
	return float64(m.cal.SeasonDay(d)) + t.Sub(m.cal.Start(d)).Hours()/24
}

// fault reports how a probe fails at an instant, if it does.
func (p *plan) fault(m *Model, i int, t time.Time, d float64) (sensors.Fault, bool) {
	id := m.probes[i].ID
	for k, day := range powerOnDays {
		if int(d) != day {
			continue
		}
		minute := int64(1440 * m.noise.even(character, 7000+int64(k)))
		if into := int64((d - float64(day)) * 1440); into >= minute && into < minute+5 && slices.Contains(p.powerOn, i) {
			return sensors.Fault{Probe: id, Kind: sensors.Implausible, Why: "85 °C, the value at power-on"}, true
		}
	}
	if i == p.silentProbe && d >= silentFrom && d < silentUntil {
		return sensors.Fault{Probe: id, Kind: sensors.Silent, Why: "no answer in 2 s"}, true
	}
	if m.noise.bits(sensing, t.Unix()*31^m.probes[i].own)%9000 == 0 {
		return sensors.Fault{Probe: id, Kind: sensors.Garbled, Why: "checksum"}, true
	}
	return sensors.Fault{}, false
}

func (p *plan) stuck(i int, d float64) bool {
	return i == p.stuckProbe && d >= stuckFrom && d < stuckUntil
}

// dark: the board was without power from ten past two for nine hours and a half.
func dark(d float64) bool {
	return d >= darkFrom+0.09 && d < darkFrom+0.486
}

// drip is how many litres fall on a pot in one grid step: 330 mL from six in the evening until nine next morning.
func (p *plan) drip(m *Model, pot int) float64 {
	if pot != p.dripPot || m.cal.SeasonDay(m.day) < dripDay || m.cal.SeasonDay(m.day) > dripDay+1 || p.mended[pot] == m.day {
		return 0
	}
	if d := m.yearDay(m.at); d >= dripDay+0.75 && d < dripDay+1.375 {
		return 0.330 / 15 * grid.Hours()
	}
	return 0
}

func (p *plan) cracks(m *Model, pot int) bool {
	_, mended := p.mended[pot]
	return pot == p.crackPot && !mended
}

func (p *plan) mend(m *Model, pot int) { p.mended[pot] = m.day }
