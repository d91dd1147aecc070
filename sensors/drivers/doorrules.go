package drivers

import (
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// Times of the door, in seconds, and its limits, in thousandths of a degree or of drained-full. Growers' common practice where
// no source is named; each is a guess a keeper may see and question.
const (
	tenMinutes = 600
	quarter    = 900
	halfHour   = 1800
	twoHours   = 2 * 3600
	threeHours = 3 * 3600
	sixHours   = 6 * 3600
	twelve     = 12 * 3600
	aDay       = 24 * 3600
	twoDays    = 48 * 3600

	potGate   = 6000 // a pot cannot change more in ten minutes
	airGate   = 4000 // the air seldom does; where it does, the next sample or a neighbour confirms it
	waterFall = 400  // no pot loses so much of its drained-full within three quarters of an hour
	onRound   = 100  // a step onto a suspiciously round figure
	colder    = 8000 // below every other thermometer of its place
	coldStep  = 1000 // a leap onto exactly 0 °C

	saturated          = 950        // ‰ from which humidity may stand for a whole night
	airMoved, potMoved = 2000, 5000 // how far others must move before standing still is strange
	plateau            = 600        // around 0 °C a pot stands still for days in its latent heat

	mostOthers = 8
	fewOthers  = 3
)

// take notes a reading before anything is judged, so that neighbours are compared within one round.
func (s *doorState) take(at int64, r *sensors.Reading) {
	if u := r.Unit(); s.bounds.unit != u {
		s.bounds = boundsOf(s.probe, u)
		s.clear()
	}
	if s.probe.Measures == garden.PotMoisture && s.last.at != 0 {
		s.swing.take(s.moved(s.last.v, r.Whole()))
	}
	if s.run.n > 0 && r.Raw == s.lastRaw && at-s.last.at <= threeHours {
		s.run.n++
	} else {
		s.run = run{since: at, n: 1, lively: s.run.n > 0 && at-s.run.since <= sixHours}
	}
	s.doubt.prev = s.last
	s.last, s.lastRaw = sample{at, r.Whole()}, r.Raw
	s.step = r.Step
}

// judge gives the reading that take noted its quality, or a fault.
func (d *Door) judge(at int64, i int, q sensors.Quality) (sensors.Quality, sensors.FaultKind) {
	s := &d.states[i]
	if !s.bounds.hold(s.last.v) {
		s.run = run{}
		return q, sensors.Implausible
	}
	if q == sensors.Suspect { // on record, or by its own word
		d.remember(at, i)
		return q, 0
	}
	switch s.probe.Measures {
	case garden.AirTemperature, garden.PotTemperature:
		still := d.still(at, s, i)
		if still == standsStuck {
			return q, sensors.Stuck
		}
		if d.leapt(at, i) || still == standsOddly || d.alone(at, s) {
			return sensors.Suspect, 0
		}
	case garden.AirHumidity:
		if d.stillAir(at, s) {
			return sensors.Suspect, 0
		}
	case garden.PotMoisture:
		if d.leapt(at, i) || s.swing.restless() {
			return sensors.Suspect, 0
		}
	}
	s.before, s.good = s.good, s.last
	return q, 0
}

// why puts the present sample's fault in words.
func (s *doorState) why(kind sensors.FaultKind) string {
	if kind == sensors.Stuck {
		return "the same to the last digit while others move"
	}
	return s.bounds.impossible(s.last.v)
}

// A doubt is a leap not yet believed.
type doubt struct {
	since int64  // 0: none
	round bool   // it landed on a round figure, which a broken chain of software says: it must move to be believed
	prev  sample // the sample before the present one
}

// remember takes up the doubt of a reading that was doubted before: a start in the middle of a fault goes on doubting.
func (d *Door) remember(at int64, i int) {
	s := &d.states[i]
	switch s.probe.Measures {
	case garden.AirTemperature, garden.PotTemperature, garden.PotMoisture:
	default:
		return
	}
	if s.good.at != 0 {
		d.leapt(at, i)
	} else if s.doubt.since == 0 {
		s.doubt.since = at
	}
}

// leapt reports whether the present value lies beyond a leap that is not believed yet. A leap is believed when a neighbour
// moved likewise, when the value comes back, or when the next samples show a live probe at the new level: it moves by a
// believable amount. Water that fell is believed only after a day, or when the pot's thermometer moved with it (the probe was
// lifted, which is not the door's to judge).
func (d *Door) leapt(at int64, i int) bool {
	s := &d.states[i]
	water := s.probe.Measures == garden.PotMoisture
	if s.good.at == 0 {
		if s.doubt.since != 0 && s.run.n > 1 { // it was doubted before our memory begins, and has not stirred
			return true
		}
		s.doubt.since = 0
		return false
	}
	dt, moved := at-s.good.at, s.moved(s.good.v, s.last.v)
	if s.doubt.since == 0 {
		round := s.onRound(dt, moved)
		if !round && !s.tooFar(dt, moved) || d.confirmed(at, i, moved) {
			return false
		}
		s.doubt.since, s.doubt.round = at, round
		return true
	}
	prev := s.doubt.prev
	came := s.moved(prev.v, s.last.v)
	switch {
	case s.run.n > 1: // exactly the same again proves nothing
		if s.doubt.round || !water || at-s.doubt.since < aDay {
			return true
		}
	case !s.tooFar(0, moved): // it came back
	case water && !s.doubt.round && at-s.doubt.since < aDay:
		return true
	case s.tooFar(at-prev.at, came):
		return true
	}
	s.doubt.since = 0
	return false
}

// moved is a difference in thousandths of a degree or, for water, of drained-full.
func (s *doorState) moved(from, to int64) int64 {
	if s.probe.Measures == garden.PotMoisture && s.bounds.unit != units.Moisture {
		if s.span == 0 {
			return 0
		}
		return (to - from) * 1000 / s.span
	}
	return to - from
}

// tooFar reports a change that the time cannot explain.
func (s *doorState) tooFar(dt, moved int64) bool {
	if s.probe.Measures == garden.PotMoisture {
		return dt <= halfHour+quarter && moved < -waterFall
	}
	gate := int64(potGate)
	if s.probe.Measures == garden.AirTemperature {
		gate = airGate
	}
	return dt <= threeHours && abs64(moved) > gate*max(dt, tenMinutes)/tenMinutes
}

// onRound reports a step that lands on a figure broken hardware and software love: air at exactly 0, 60 or 85 °C, water at
// exactly 0, 60 or 85 %. A pot may well come to 0 °C and stay, but it creeps there: one that drops a degree between two samples
// and lands on exactly nought is a 1-wire bus at ground behind somebody else's reader, whose nine noughts have a good checksum.
func (s *doorState) onRound(dt, moved int64) bool {
	v := s.last.v
	if s.probe.Measures == garden.PotMoisture {
		return s.bounds.unit == units.Moisture && (v == 0 || v == 600 || v == 850) && abs64(moved) >= onRound && dt <= aDay
	}
	often := s.before.at != 0 && s.good.at-s.before.at <= quarter // whether it comes or goes, it will soon have moved
	if v == 0 && abs64(moved) >= coldStep && (dt <= quarter || often && dt <= twelve) {
		return true
	}
	return s.probe.Measures == garden.AirTemperature && (v == 60_000 || v == 85_000)
}

// confirmed reports whether a neighbour moved likewise within the same quarter of an hour.
func (d *Door) confirmed(at int64, i int, moved int64) bool {
	s := &d.states[i]
	if s.probe.Measures == garden.PotMoisture {
		if s.mate < 0 {
			return false
		}
		m := &d.states[s.mate]
		from := m.good
		if from.at == at {
			from = m.before
		}
		return m.last.at == at && from.within(at, quarter) && abs64(m.last.v-from.v) >= coldStep && m.bounds.hold(m.last.v)
	}
	for _, j := range d.others {
		o := &d.states[j]
		from := o.good
		if from.at == at {
			from = o.before
		}
		if s.last.v == 0 && o.last.v == 0 { // they share the broken wire, not the weather
			continue
		}
		if j == i || o.last.at != at || !from.within(at, halfHour) || !o.bounds.hold(o.last.v) || o.run.n > 1 {
			continue
		}
		if came := o.last.v - from.v; came*moved > 0 && abs64(came)*3 >= abs64(moved) {
			return true
		}
	}
	return false
}
