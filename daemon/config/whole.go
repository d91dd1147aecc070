package config

import (
	"slices"
	"strings"

	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// whole checks what only the whole file shows: references, shared chips, names used twice.
func (r *reader) whole() {
	g := r.garden
	if r.seen["site"] == 0 && !slices.ContainsFunc(r.found, func(e *table.Error) bool { return e.Path == "site" }) {
		r.find(&table.Error{Path: "site", Say: "there is no [site] block: write one with id and zone"})
	}
	names := map[string]string{}
	for _, p := range g.Places {
		if first := names[p.Name]; p.Name != "" && first != "" {
			r.find(r.raws["place "+p.ID].Errorf("name", "place %s is called %q too: give each its own name", first, p.Name))
		} else {
			names[p.Name] = p.ID
		}
	}
	for _, p := range g.Pots {
		r.potRefs(p)
	}
	r.subjects()
	r.whereProbes()
	r.chips()
	r.defaults()
}

// refer checks that a key names a block of a kind.
func (r *reader) refer(raw table.Raw, key, kind, id string) bool {
	if _, ok := r.raws[kind+" "+id]; ok {
		return true
	}
	r.find(raw.Errorf(key, "there is no %s %q: %s", kind, id, r.adviseID(kind, id)))
	return false
}

func (r *reader) adviseID(kind, id string) string {
	var known []string
	for key := range r.raws {
		if k, ok := strings.CutPrefix(key, kind+" "); ok {
			known = append(known, k)
		}
	}
	slices.Sort(known)
	if n := table.Near(id, known); n != "" {
		return "did you mean " + n + "?"
	}
	return "write a [[" + kind + "]] block with this id or name another"
}

func (r *reader) potRefs(p garden.Pot) {
	raw, ok := r.raws["pot "+p.ID]
	if !ok {
		return
	}
	if p.Plant == "" {
		r.find(raw.Errorf("", "it does not say what grows in it: write plant = \"...\""))
	} else {
		r.refer(raw, "plant", "plant", p.Plant)
	}
	if p.Place == "" {
		r.find(raw.Errorf("", "it does not say where it stands: write place = \"...\""))
	} else {
		r.refer(raw, "place", "place", p.Place)
	}
	for _, l := range []struct {
		key string
		ids []string
	}{{"relatives", p.Relatives}, {"faster", p.Faster}} {
		for i, id := range l.ids {
			switch {
			case id == p.ID:
				r.find(raw.Errorf(l.key, "a pot does not speak for itself: take %s out of the list", id))
			case slices.Contains(l.ids[:i], id):
				r.find(raw.Errorf(l.key, "%s is in the list twice: take one away", id))
			default:
				r.refer(raw, l.key, "pot", id)
			}
		}
	}
	if p.Like != "" {
		r.like(raw, p)
	}
}

// like checks whose marks a pot borrows: marks hold for one kind of probe in one mix.
func (r *reader) like(raw table.Raw, p garden.Pot) {
	if p.Like == p.ID {
		r.find(raw.Errorf("like", "a pot cannot borrow its own marks: name another pot"))
		return
	}
	if !r.refer(raw, "like", "pot", p.Like) {
		return
	}
	from := r.garden.Pot(p.Like)
	if from.Mix != p.Mix {
		r.find(raw.Errorf("like", "pot %s has the mix %q and this one %q: borrow marks from a pot of the same mix", p.Like, from.Mix, p.Mix))
	}
	if !slices.ContainsFunc(r.garden.Probes, func(q garden.Probe) bool { return q.Pot == p.Like && q.Measures == garden.PotMoisture }) {
		r.find(raw.Errorf("like", "pot %s has no probe that measures pot-moisture: there are no marks to borrow", p.Like))
	}
}

// subjects: a note names a pot, a plant or a place by its id alone, so an id may mean one thing only. A pot may be called
// like the plant that stands in it.
func (r *reader) subjects() {
	for _, p := range r.garden.Pots {
		raw, ok := r.raws["pot "+p.ID]
		if !ok {
			continue
		}
		if r.garden.Plant(p.ID) != nil && p.Plant != p.ID {
			r.find(raw.Errorf("id", "%q is also a plant, which is not in this pot: a note could mean either; write another id", p.ID))
		}
		if r.garden.Place(p.ID) != nil {
			r.find(raw.Errorf("id", "%q is also a place: a note could mean either; write another id", p.ID))
		}
	}
	for _, p := range r.garden.Plants {
		if raw, ok := r.raws["plant "+p.ID]; ok && r.garden.Place(p.ID) != nil {
			r.find(raw.Errorf("id", "%q is also a place: a note could mean either; write another id", p.ID))
		}
	}
}

// whereProbes: a probe whose pot or place is missing is a probe nobody uses.
func (r *reader) whereProbes() {
	for i, p := range r.garden.Probes {
		raw := r.probes[i].block.raw
		anywhere := slices.Contains([]garden.Measures{garden.AirPressure, garden.Battery, garden.Signal, garden.Supply}, p.Measures)
		switch {
		case p.Pot != "" && p.Place != "":
			r.find(raw.Errorf("place", "it names a pot and a place: take one away"))
		case p.Measures == garden.MeasuresNothing:
		case p.Measures.InPot() && p.Pot == "":
			r.find(raw.Errorf("", "nobody uses it: it measures %v and names no pot: write pot = \"...\"", p.Measures))
		case !p.Measures.InPot() && !anywhere && p.Place == "":
			r.find(raw.Errorf("", "nobody uses it: it measures %v and names no place: write place = \"...\"", p.Measures))
		}
		if p.Pot != "" {
			r.refer(raw, "pot", "pot", p.Pot)
		}
		if p.Place != "" {
			r.refer(raw, "place", "place", p.Place)
		}
	}
}

// chips asks each driver about its table and refuses two masters of one chip, both named.
func (r *reader) chips() {
	type claim struct {
		probe garden.Probe
		wish  drivers.Wish
	}
	first := map[string]claim{}
	same := map[string]garden.Probe{}
	for _, p := range r.garden.Probes {
		if p.Source.Zero() {
			continue
		}
		w, err := r.options.Driver(p)
		if err != nil {
			r.find(err)
			continue
		}
		if w.Chip == "" {
			continue
		}
		words := w.Chip + "|" + w.Channel
		if other, ok := same[words]; ok && w.Channel != "" && other.Source.Name == p.Source.Name {
			r.find(p.Source.Errorf("", "it reads the very same thing as probe %s at line %d: change its address or take one away", other.ID, other.Line))
			continue
		}
		same[words] = p
		c, taken := first[w.Chip]
		switch {
		case !taken:
			first[w.Chip] = claim{p, w}
		case c.probe.Source.Name != p.Source.Name:
			r.find(p.Source.Errorf("", "%s is already read by %s for probe %s at line %d: one chip has one driver", w.Chip, c.probe.Source.Name, c.probe.ID, c.probe.Line))
		case c.wish.Settings != w.Settings:
			r.find(p.Source.Errorf("", "%s has other settings here (%s) than for probe %s at line %d (%s): write the same", w.Chip, w.Settings, c.probe.ID, c.probe.Line, c.wish.Settings))
		}
	}
}
