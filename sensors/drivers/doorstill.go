package drivers

import (
	"lathwatch/sensors/garden"
)

// A run is how long a probe has said exactly the same, and how far others moved meanwhile.
type run struct {
	since    int64
	n        int
	lively   bool               // what it said before did not last six hours: standing still is new to it
	from     [mostOthers]sample // the others half an hour into the run
	air, pot int64              // farthest any air or pot thermometer has been from there
}

type stands uint8

const (
	standsWell stands = iota
	standsOddly
	standsStuck
)

// still holds a thermometer that says the same to the last digit against others that move.
func (d *Door) still(at int64, s *doorState, i int) stands {
	r := &s.run
	lasted := at - r.since
	if r.n < 6 || lasted < halfHour {
		return standsWell
	}
	if !r.lively && (s.probe.Measures == garden.PotTemperature || lasted < twoDays) {
		return standsWell // written by hand, a figure a day, or so placed that it hardly moves
	}
	if s.probe.Measures == garden.PotTemperature && abs64(s.last.v) <= plateau {
		return standsWell
	}
	for k, j := range d.others[:min(len(d.others), mostOthers)] {
		o := &d.states[j]
		if j == i || !o.good.within(at, halfHour) {
			continue
		}
		if r.from[k].at == 0 {
			r.from[k] = o.good
		}
		far := abs64(o.good.v - r.from[k].v)
		if o.probe.Measures == garden.AirTemperature {
			r.air = max(r.air, far)
		} else {
			r.pot = max(r.pot, far)
		}
	}
	coarse := 4 * s.step.Of(1) // coarse probes stand still longer
	if s.probe.Measures == garden.PotTemperature {
		if lasted >= twelve && r.n >= 24 && r.air > potMoved+coarse {
			return standsStuck
		}
		return standsWell
	}
	if r.air <= airMoved+coarse && r.pot <= potMoved+coarse {
		return standsWell
	}
	if lasted >= sixHours && r.n >= 12 {
		return standsStuck
	}
	if lasted >= twoHours {
		return standsOddly
	}
	return standsWell
}

// stillAir doubts a humidity that says the same to the last digit while the temperature beside it moves: with the same water
// in the air it changes by some 6 % of itself a degree. Near saturation it may stand for a whole night.
func (d *Door) stillAir(at int64, s *doorState) bool {
	r := &s.run
	if s.mate < 0 || !r.lively || r.n < 6 || at-r.since < halfHour || s.last.v >= saturated {
		return false
	}
	o := &d.states[s.mate]
	if !o.good.within(at, halfHour) {
		return false
	}
	if r.from[0].at == 0 {
		r.from[0] = o.good
	}
	r.air = max(r.air, abs64(o.good.v-r.from[0].v))
	return r.air > airMoved
}

// alone reports an air thermometer far colder than every other of its own place: a false frost is worse than a lost sample,
// and none is lost while only one of two is asked to believe the other.
func (d *Door) alone(at int64, s *doorState) bool {
	n := 0
	for _, j := range s.here {
		o := &d.states[j]
		if !o.good.within(at, halfHour) {
			continue
		}
		if s.last.v >= o.good.v-colder {
			return false
		}
		n++
	}
	return n >= 2 || n == 1 && s.run.n >= 3
}
