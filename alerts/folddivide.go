package alerts

import (
	"strconv"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/indices"
)

// divide ends a pot and begins its children: each inherits the plant's history and accounts up to this day, the first one the
// probes. A child the file does not have yet is made after its parent's pattern.
func (f *Fold) divide(i int, n *sensors.Note) {
	f.newEpoch(i, n.At)
	ids := strings.Fields(n.Detail)
	if len(ids) == 0 {
		return
	}
	parent := f.st.Pots[i].Pot.ID
	for k, id := range ids {
		if id != parent {
			f.child(i, f.potOrBorn(i, id), k == 0, n.At)
		}
		f.st.Pots[f.potIndex(id)].Shoots = 0
	}
	for _, id := range ids {
		if id == parent {
			return // the old id lives on
		}
	}
	f.gone(i, n.At)
}

// potOrBorn finds a pot, or makes one that the file does not know.
func (f *Fold) potOrBorn(parent int, id string) int {
	if j := f.potIndex(id); j >= 0 {
		return j
	}
	p := *f.st.Pots[parent].Pot
	p.ID, p.Like, p.Relatives, p.Faster = id, "", nil, nil
	f.born = append(f.born, &p)
	f.pots = append(f.pots, potFold{temp: -1, place: -1})
	f.st.Pots = append(f.st.Pots, PotStanding{Pot: &p, Plant: f.st.Pots[parent].Plant})
	return len(f.pots) - 1
}

func (f *Fold) child(i, j int, probes bool, at time.Time) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	cf, cs := &f.pots[j], &f.st.Pots[j]
	own, pot, plant := cf.layers, cs.Pot, cs.Plant
	temp := cf.temp
	*cf, *cs = *pf, *ps
	cs.Pot, cs.Parent, cs.Gone = pot, ps.Pot.ID, time.Time{}
	if plant != nil {
		cs.Plant = plant
	}
	cs.History = append([]DayPoint(nil), ps.History...)
	down := *pf.down
	cf.down, cf.moved, cf.weights = &down, movedFold{}, nil
	cf.layers, cf.temp = own, temp
	cf.steps, cf.out, cf.wet, cf.dry = indices.WetSteps{}, indices.ProbeOut{}, indices.WetClock{}, indices.DryClock{}
	cf.rough, cf.cycles = indices.FrozenGate{}, -ps.FreezeThaw
	cs.WetnessOK, cs.WetnessAt, cs.NeedsMarks = false, time.Time{}, false
	cs.Regime = f.regimeOf(j)
	if probes {
		f.inherit(i, j)
	}
	cs.TempOwn = cf.temp >= 0
}

// inherit hands the probes of a pot to its child.
func (f *Fold) inherit(i, j int) {
	pf, cf := &f.pots[i], &f.pots[j]
	cf.layers, cf.temp, cf.cycles = pf.layers, pf.temp, pf.cycles
	cf.steps = pf.steps
	for k := range f.probes {
		if f.probes[k].pot == i {
			f.probes[k].pot = j
		}
	}
	f.st.Pots[j].NeedsMarks = len(cf.layers) > 0
	pf.layers, pf.temp = nil, -1
	f.heirs[f.st.Pots[i].Pot.ID] = f.st.Pots[j].Pot.ID
}

// gone takes a pot out of all judging; its history stays.
func (f *Fold) gone(i int, at time.Time) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	ps.Gone = at
	pf.place, ps.Place = -1, ""
	ps.WetnessOK, ps.Frozen, ps.Elsewhere, ps.ProbeOut = false, false, "", time.Time{}
}

// heirOf follows divisions from the pot a probe was configured for to the one it is in now.
func (f *Fold) heirOf(id string) string {
	for range len(f.heirs) {
		j := f.potIndex(id)
		next, ok := f.heirs[id]
		if !ok || j >= 0 && f.st.Pots[j].Gone.IsZero() {
			break
		}
		id = next
	}
	return id
}

// shoots notes a count. When all but one of a division's children are counted, the last one has what is left: a division makes
// no shoots and loses none unless a loss is noted.
func (f *Fold) shoots(i int, n *sensors.Note) {
	count, err := strconv.Atoi(n.Detail)
	if err != nil {
		return
	}
	ps := &f.st.Pots[i]
	ps.Shoots = count
	parent := f.potIndex(ps.Parent)
	if ps.Parent == "" || parent < 0 || f.st.Pots[parent].Shoots == 0 {
		return
	}
	left, open := f.st.Pots[parent].Shoots, -1
	for k := range f.st.Pots {
		if c := &f.st.Pots[k]; c.Parent == ps.Parent {
			if c.Shoots == 0 && open >= 0 {
				return
			}
			if c.Shoots == 0 {
				open = k
			}
			left -= c.Shoots
		}
	}
	if open >= 0 && left > 0 {
		f.st.Pots[open].Shoots = left
	}
}
