package daemon

import (
	"math/rand/v2"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// An ailment is one fault of the field log on some probes for a while.
type ailment struct {
	*malady
	number      int
	slots       []int // probes by their place in the garden's order of ids
	from, until time.Time
	held        map[int]int64 // what a probe said when it began
	size        float64       // drawn, 0..1
}

// A malady is a kind of ailment: which probes catch it, how many at once, for how long, and what becomes of a reading. The bend
// changes the reading in place or takes it away and gives the fault the driver would report.
type malady struct {
	row         string // of the field log; "still": a probe that says the same for days
	of          func(*garden.Probe) bool
	group       int // probes at once; 0: one; -1: the whole pot or place
	short, long time.Duration
	bend        func(s *sickRound, a *ailment, slot int, r *sensors.Reading) sensors.FaultKind
}

// A sickRound is what a bend may look at.
type sickRound struct {
	at     time.Time
	sound  []sensors.Reading // by slot
	there  []bool
	probes []garden.Probe
}

// chance is a number drawn for this ailment, probe and minute, the same in every run.
func (s *sickRound) chance(a *ailment, slot int) float64 {
	return rand.New(rand.NewPCG(uint64(a.number)<<20|uint64(slot), uint64(s.at.Unix()))).Float64()
}

func measures(ms ...garden.Measures) func(*garden.Probe) bool {
	return func(p *garden.Probe) bool {
		for _, m := range ms {
			if p.Measures == m {
				return true
			}
		}
		return false
	}
}

var (
	thermometer = measures(garden.AirTemperature, garden.PotTemperature)
	airTherm    = measures(garden.AirTemperature)
	potTherm    = measures(garden.PotTemperature)
	water       = measures(garden.PotMoisture)
	damp        = measures(garden.AirHumidity)
	anyProbe    = func(*garden.Probe) bool { return true }
	inVolts     = func(p *garden.Probe) bool { return water(p) && p.Unit != units.Moisture && p.Unit != units.Count }
	inCounts    = func(p *garden.Probe) bool { return water(p) && p.Unit == units.Count }
)

// whole sets a reading to a value in whole units.
func whole(r *sensors.Reading, v int64) { r.Raw = v * int64(r.Step.Den) / int64(r.Step.Num) }

// says: the probe answers with one figure.
func says(v int64) func(*sickRound, *ailment, int, *sensors.Reading) sensors.FaultKind {
	return func(_ *sickRound, _ *ailment, _ int, r *sensors.Reading) sensors.FaultKind { whole(r, v); return 0 }
}

// fails: no value at all, for a share of the rounds.
func fails(k sensors.FaultKind, share float64) func(*sickRound, *ailment, int, *sensors.Reading) sensors.FaultKind {
	return func(s *sickRound, a *ailment, slot int, _ *sensors.Reading) sensors.FaultKind {
		if share < 1 && s.chance(a, slot) > share {
			return 0
		}
		return k
	}
}

// more: the reading is off by between least and most whole units for the whole time.
func more(least, most float64) func(*sickRound, *ailment, int, *sensors.Reading) sensors.FaultKind {
	return func(_ *sickRound, a *ailment, _ int, r *sensors.Reading) sensors.FaultKind {
		whole(r, r.Whole()+int64(least+(most-least)*a.size))
		return 0
	}
}

// same: what the probe said when it began, to the last digit.
func same(_ *sickRound, a *ailment, slot int, r *sensors.Reading) sensors.FaultKind {
	if _, ok := a.held[slot]; !ok {
		a.held[slot] = r.Raw
	}
	r.Raw = a.held[slot]
	return 0
}

// flip: in one of fifty reads the top bit of one byte is wrong.
func flip(s *sickRound, a *ailment, slot int, r *sensors.Reading) sensors.FaultKind {
	switch c := s.chance(a, slot); {
	case c < 0.01:
		r.Raw ^= 0x80
	case c < 0.02:
		r.Raw ^= 0x8000
	}
	return 0
}

// partner is the other of two probes that share an ailment.
func (a *ailment) partner(slot int) int {
	if a.slots[0] != slot {
		return a.slots[0]
	}
	return a.slots[len(a.slots)-1]
}

// swapped: two probes answer for each other.
func swapped(s *sickRound, a *ailment, slot int, r *sensors.Reading) sensors.FaultKind {
	other := a.partner(slot)
	if !s.there[other] {
		return sensors.Silent
	}
	r.Raw = s.sound[other].Raw
	return 0
}

// stolen: every other reading is the neighbouring channel's.
func stolen(s *sickRound, a *ailment, slot int, r *sensors.Reading) sensors.FaultKind {
	if s.chance(a, slot) < 0.5 {
		return swapped(s, a, slot, r)
	}
	return 0
}

// open: nothing is attached and the input drifts between 0 and 0.6 V.
func open(s *sickRound, a *ailment, slot int, r *sensors.Reading) sensors.FaultKind {
	drift := 300_000 + 250_000*(2*s.chance(a, slot)-1)*0.2 + 240_000*(a.size*2-1)
	whole(r, int64(max(0, drift)))
	return 0
}

// shifted: each register gives the one before it, in tenths: a pot's moisture becomes its temperature and the other way round.
func shifted(s *sickRound, a *ailment, slot int, r *sensors.Reading) sensors.FaultKind {
	other := a.partner(slot)
	if !s.there[other] {
		return sensors.Silent
	}
	if v := s.sound[other].Whole(); s.probes[slot].Measures == garden.PotTemperature {
		whole(r, v*100)
	} else {
		whole(r, v/100)
	}
	return 0
}

// sign: below zero a sign and a magnitude are taken for two's complement.
func sign(_ *sickRound, _ *ailment, _ int, r *sensors.Reading) sensors.FaultKind {
	if v := r.Whole(); v < 0 {
		whole(r, -3_276_800-v)
	}
	return 0
}

// heater: a pulse of the heater, or dirt on the sensor.
func heater(s *sickRound, _ *ailment, slot int, r *sensors.Reading) sensors.FaultKind {
	if s.probes[slot].Measures == garden.AirTemperature {
		whole(r, r.Whole()+7000)
	} else {
		whole(r, r.Whole()*3/10)
	}
	return 0
}

// scaled: a new library speaks in other units.
func scaled(num, den int64) func(*sickRound, *ailment, int, *sensors.Reading) sensors.FaultKind {
	return func(_ *sickRound, _ *ailment, _ int, r *sensors.Reading) sensors.FaultKind {
		r.Raw = r.Raw * num / den
		return 0
	}
}

// wetter: so many thousandths of drained-full more, through the marks the garden's probes have.
func wetter(points int64) func(*sickRound, *ailment, int, *sensors.Reading) sensors.FaultKind {
	return func(_ *sickRound, _ *ailment, _ int, r *sensors.Reading) sensors.FaultKind {
		switch r.Unit() {
		case units.Moisture:
			whole(r, r.Whole()+points)
		case units.Count:
			whole(r, r.Whole()-points*41/100)
		default:
			whole(r, r.Whole()-points*1400)
		}
		return 0
	}
}
