package alerts

import (
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// Garden takes the garden in force from at on. What is known of probes, places and pots that stay is kept by id; a pot's
// place and regime are the file's until a note changes them.
func (f *Fold) Garden(at time.Time, g *garden.Garden) {
	old := *f
	south, _ := g.Site.South()
	f.st.Garden, f.st.Cal = g, garden.Calendar{Zone: g.Site.Zone, South: south}
	f.st.At = at
	f.st.Climate = northern(g.Normals, south)
	f.clk.next, f.sunUp = time.Time{}, time.Time{} // another zone or position may be in force
	f.layPlaces(&old)
	f.layPots(&old)
	f.layProbes(&old)
}

func (f *Fold) layPlaces(old *Fold) {
	g := f.st.Garden
	f.places, f.st.Places = make([]placeFold, len(g.Places)), make([]PlaceStanding, len(g.Places))
	for i := range g.Places {
		f.places[i].days = indices.Days{Cal: f.st.Cal, Base: 5000}
		if j := old.placeIndex(g.Places[i].ID); j >= 0 {
			f.places[i], f.st.Places[i] = old.places[j], old.st.Places[j]
			f.places[i].days.Cal = f.st.Cal
		}
		f.st.Places[i].Place = &g.Places[i]
	}
}

func (f *Fold) layPots(old *Fold) {
	g := f.st.Garden
	all := f.potsOf(g)
	f.pots, f.st.Pots = make([]potFold, len(all)), make([]PotStanding, len(all))
	for i, p := range all {
		pf, ps := &f.pots[i], &f.st.Pots[i]
		pf.days = indices.Days{Cal: f.st.Cal, Base: 5000}
		pf.cold.Bounds = indices.DefaultCold
		ps.Place = p.Place
		if j := old.potIndex(p.ID); j >= 0 {
			*pf, *ps = old.pots[j], old.st.Pots[j]
			pf.days.Cal = f.st.Cal
			if was := old.st.Pots[j].Pot.Place; was != p.Place && ps.Gone.IsZero() { // the file moved it
				ps.Place = p.Place
			}
		} else {
			pf.down = indices.NewDryDown(indices.PotKind{Clay: p.Clay, Litres: p.Litres.Litres()})
		}
		pf.temp, pf.place = -1, f.placeIndex(ps.Place)
		ps.Pot, ps.Plant = p, g.Plant(p.Plant)
		ps.Regime = f.regimeOf(i)
	}
}

// potsOf lists the file's pots and then those born by division that the file does not have yet.
func (f *Fold) potsOf(g *garden.Garden) []*garden.Pot {
	var all []*garden.Pot
	for i := range g.Pots {
		all = append(all, &g.Pots[i])
	}
	for _, p := range f.born {
		if g.Pot(p.ID) == nil {
			all = append(all, p)
		}
	}
	return all
}

func (f *Fold) layProbes(old *Fold) {
	g := f.st.Garden
	f.probes, f.st.Probes = make([]probeFold, len(g.Probes)), make([]ProbeStanding, len(g.Probes))
	f.slot = make(map[sensors.ProbeID]int, len(g.Probes))
	kept := make([][]layerFold, len(f.pots))
	for i := range g.Probes {
		p := &g.Probes[i]
		pf := &f.probes[i]
		if j, ok := old.slot[p.ID]; ok {
			*pf, f.st.Probes[i] = old.probes[j], old.st.Probes[j]
		}
		f.st.Probes[i].Probe = p
		f.slot[p.ID] = i
		f.mergeMarks(i)
		pf.place, pf.pot = f.placeIndex(p.Place), f.potIndex(f.heirOf(p.Pot))
		if pf.pot < 0 {
			continue
		}
		switch p.Measures {
		case garden.PotTemperature:
			f.pots[pf.pot].temp = i
		case garden.PotMoisture, garden.PotWeight:
			if p.Measures == garden.PotWeight && f.hasMoisture(p.Pot) {
				continue // the probe in the pot goes before the balance under it
			}
			pf.layer = len(kept[pf.pot])
			kept[pf.pot] = append(kept[pf.pot], old.layerOf(p.ID, i))
		}
	}
	for i := range f.pots {
		f.pots[i].layers = kept[i]
	}
}

// layerOf gives what was known of a moisture probe, or a new layer.
func (f *Fold) layerOf(id sensors.ProbeID, slot int) layerFold {
	if j, ok := f.slot[id]; ok && f.probes[j].pot >= 0 {
		for _, l := range f.pots[f.probes[j].pot].layers {
			if l.probe == j {
				l.probe = slot
				return l
			}
		}
	}
	return layerFold{probe: slot}
}
