package drivers

import (
	"cmp"
	"slices"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// A Door holds every reading of a round against what can be true of its kind of probe and against its neighbours: valid,
// suspect (kept and shown, never summed or alerted on), or missing with a fault. It is told the time by the rounds, keeps only
// what it saw, and gives the same verdicts for the same rounds, live or recorded. It never says frozen: a pot pinned at 0 °C
// for days in its latent heat, and a resting pot whose water does not move, are normal. It is not safe for concurrent use.
type Door struct {
	states []doorState // sorted by probe
	at     int64       // of the last round, Unix seconds
	place  []int       // scratch: which state each reading of the round belongs to
	others []int       // thermometers the still ones are held against
}

// doorState is what the door remembers of one probe.
type doorState struct {
	probe   garden.Probe
	bounds  bounds
	mate    int   // the pot's own thermometer, for its moisture probe, or the place's, for its humidity; -1: none
	span    int64 // whole units that are 100 % of drained-full, with the sign of wetting; 0: not known
	here    []int // other air thermometers of the same place
	last    sample
	good    sample // the last that was trusted
	before  sample // the trusted one before that
	doubt   doubt
	run     run
	swing   swing
	lastRaw int64
	step    units.Step
}

// A sample is a value in whole units at an instant, Unix seconds; 0 is never.
type sample struct{ at, v int64 }

func (s sample) within(now, seconds int64) bool { return s.at != 0 && now-s.at <= seconds }

// NewDoor makes a door for a garden's probes. A probe the door does not know passes as it is.
func NewDoor(probes []garden.Probe) *Door {
	d := &Door{}
	for _, p := range probes {
		d.states = append(d.states, doorState{probe: p, mate: -1, span: spanOf(p)})
	}
	slices.SortFunc(d.states, func(a, b doorState) int { return cmp.Compare(a.probe.ID, b.probe.ID) })
	air, pots := 0, 0
	for i := range d.states {
		s := &d.states[i].probe
		switch {
		case s.Measures == garden.AirTemperature && air < mostOthers:
			d.others = append(d.others, i)
			air++
		case s.Measures == garden.PotTemperature && pots < fewOthers:
			pots++
		}
	}
	if air < 2 { // a lone air thermometer is held against pots, which lag but move
		for i := range d.states {
			if d.states[i].probe.Measures == garden.PotTemperature && len(d.others) < air+fewOthers {
				d.others = append(d.others, i)
			}
		}
	}
	for i := range d.states {
		d.states[i].mate, d.states[i].here = d.company(i)
	}
	return d
}

// company finds a moisture or humidity probe's thermometer and an air thermometer's neighbours at its place.
func (d *Door) company(i int) (mate int, here []int) {
	mate = -1
	p := d.states[i].probe
	for j := range d.states {
		o := d.states[j].probe
		if p.Measures == garden.PotMoisture && o.Measures == garden.PotTemperature && o.Pot == p.Pot && mate < 0 {
			mate = j
		}
		if p.Measures == garden.AirHumidity && o.Measures == garden.AirTemperature && o.Place == p.Place && mate < 0 {
			mate = j
		}
		if p.Measures == garden.AirTemperature && o.Measures == garden.AirTemperature && o.Place == p.Place && i != j {
			here = append(here, j)
		}
	}
	return mate, here
}

// spanOf is how many whole units lie between no water and drained-full, by the file's marks.
func spanOf(p garden.Probe) int64 {
	var full, dry, share int64
	known := 0
	for _, m := range p.Marks {
		switch m.Which {
		case garden.DrainedFull:
			full, known = m.Raw, known|1
		case garden.DriestAllowed:
			dry, share, known = m.Raw, int64(m.Share), known|2
		}
	}
	if share < 0 || share >= 1000 {
		share = 250
	}
	if known != 3 {
		return 0
	}
	return (full - dry) * 1000 / (1000 - share)
}

// Admit judges a round. The round given is not changed. Rounds come in order of time; one from before the last makes the
// door forget what it knew.
func (d *Door) Admit(r sensors.Round) sensors.Round {
	at := r.At.Unix()
	if at < d.at {
		d.forget()
	}
	d.at = at
	d.find(r.Readings)
	for k := range r.Readings {
		if i := d.place[k]; i >= 0 {
			d.states[i].take(at, &r.Readings[k])
		}
	}
	out := r
	var faults []sensors.Fault
	kept := -1 // readings kept so far; -1 while nothing had to be changed
	for k := range r.Readings {
		quality, kind := r.Readings[k].Quality, sensors.FaultKind(0)
		i := d.place[k]
		if i >= 0 {
			quality, kind = d.judge(at, i, quality)
		}
		if kept < 0 && (kind != 0 || quality != r.Readings[k].Quality) {
			out.Readings, kept = slices.Clone(r.Readings), k
		}
		switch {
		case kind != 0:
			faults = append(faults, sensors.Fault{Probe: r.Readings[k].Probe, Kind: kind, Why: d.states[i].why(kind)})
		case kept >= 0:
			out.Readings[kept] = r.Readings[k]
			out.Readings[kept].Quality = quality
			kept++
		}
	}
	if kept >= 0 {
		out.Readings = out.Readings[:kept]
	}
	if len(faults) > 0 {
		out.Faults = slices.Concat(r.Faults, faults)
		slices.SortStableFunc(out.Faults, func(a, b sensors.Fault) int { return cmp.Compare(a.Probe, b.Probe) })
	}
	return out
}

func (d *Door) forget() {
	for i := range d.states {
		d.states[i].clear()
	}
}

func (s *doorState) clear() {
	s.last, s.good, s.before, s.doubt, s.run, s.swing, s.lastRaw = sample{}, sample{}, sample{}, doubt{}, run{}, swing{}, 0
}

// find fills place: readings come in order of probe id, so one walk along both lists finds nearly all.
func (d *Door) find(rs []sensors.Reading) {
	d.place = d.place[:0]
	i := 0
	for k := range rs {
		id := rs[k].Probe
		if i < len(d.states) && d.states[i].probe.ID != id {
			if d.states[i].probe.ID < id {
				for i < len(d.states) && d.states[i].probe.ID < id {
					i++
				}
			} else {
				i, _ = slices.BinarySearchFunc(d.states, id, func(s doorState, id sensors.ProbeID) int { return cmp.Compare(s.probe.ID, id) })
			}
		}
		if i >= len(d.states) || d.states[i].probe.ID != id {
			d.place = append(d.place, -1)
			i = min(i, max(len(d.states)-1, 0))
			continue
		}
		d.place = append(d.place, i)
		i++
	}
}
