package drivers

import (
	"lathwatch/sensors/garden"
)

// A run is how long a probe has said exactly the same, and how far others moved meanwhile.
type run struct {
	since    int64
	n        int
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
