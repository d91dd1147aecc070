package model

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// A Keeper tends a Model's garden: does as messages say, mornings, and notes what is to be seen on a daily walk at half past
// nine. Call Notes before each Step; give every message to Hear.
type Keeper struct {
	model *Model
	asked []task
	day   garden.Date // last day walked
	in    bool        // dry-rest pots stand under the roof
}

type task struct {
	at   time.Time
	kind string
	pots []string
}

// Keeper gives the garden a keeper from the model's present instant on.
func (m *Model) Keeper() *Keeper {
	k := &Keeper{model: m, day: m.cal.DateOf(m.at)}
	for i := range m.pots {
		if k.resting(i) && m.pots[i].place >= 0 && m.places[m.pots[i].place].roof {
			k.in = true
		}
	}
	return k
}

// Hear takes a message: its kind and the pots it names.
func (k *Keeper) Hear(at time.Time, kind string, pots []string) {
	k.asked = append(k.asked, task{k.morning(at), kind, slices.Clone(pots)})
}

// morning is the first quarter to ten after an instant.
func (k *Keeper) morning(at time.Time) time.Time {
	d := k.model.cal.DateOf(at)
	for ; ; d++ {
		if t := k.clock(d, 9, 45); t.After(at) {
			return t
		}
	}
}

func (k *Keeper) clock(d garden.Date, hour, minute int) time.Time {
	y, m, day := d.Civil()
	return time.Date(y, m, day, hour, minute, 0, 0, k.model.cal.Zone).UTC()
}

// Notes does what falls due until t, in the model too, and returns what the keeper wrote down, in order of time.
func (k *Keeper) Notes(t time.Time) []sensors.Note {
	var notes []sensors.Note
	for d := k.model.cal.DateOf(t); k.day <= d && !k.clock(k.day, 9, 30).After(t); k.day++ {
		notes = append(notes, k.walk(k.clock(k.day, 9, 30))...)
	}
	due := k.asked
	k.asked = nil
	for _, a := range due {
		if a.at.After(t) {
			k.asked = append(k.asked, a)
			continue
		}
		notes = append(notes, k.act(a)...)
	}
	slices.SortStableFunc(notes, func(a, b sensors.Note) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Subject, b.Subject)) })
	return notes
}

func note(at time.Time, subject string, what sensors.What, detail string) sensors.Note {
	return sensors.Note{At: at, Subject: subject, What: what, Detail: detail}
}

// walk is the daily look: what plants show, and the two moves of the year.
func (k *Keeper) walk(at time.Time) (notes []sensors.Note) {
	m := k.model
	saw := m.saw
	m.saw = nil
	for _, s := range saw {
		notes = append(notes, note(at, m.garden.Pots[s.pot].ID, s.what, ""))
	}
	day := m.cal.SeasonDay(m.cal.DateOf(at))
	if !k.in && day >= 66 && day < 200 {
		k.in = true
		notes = append(notes, k.moveResting(at, true)...)
	} else if k.in && day >= 222 {
		k.in = false
		notes = append(notes, k.moveResting(at, false)...)
	}
	return notes
}

func (k *Keeper) resting(pot int) bool {
	switch k.model.regime(pot) {
	case "dry-winter", "bone-dry":
		return true
	}
	return false
}

// moveResting carries the pots that rest dry under the roof, or out again.
func (k *Keeper) moveResting(at time.Time, roof bool) (notes []sensors.Note) {
	m := k.model
	to := slices.IndexFunc(m.places, func(p place) bool { return p.roof == roof })
	if to < 0 {
		return nil
	}
	id := m.garden.Places[to].ID
	for i := range m.pots {
		if k.resting(i) && m.pots[i].place != to {
			m.pots[i].place = to
			notes = append(notes, note(at, m.garden.Pots[i].ID, sensors.Moved, id))
		}
	}
	return notes
}

// act does what a message asked for.
func (k *Keeper) act(a task) (notes []sensors.Note) {
	switch a.kind {
	case "water-light", "water", "sitter-water", again:
		for _, id := range k.alike(a.pots) {
			notes = append(notes, k.water(a, id)...)
		}
		if a.kind == "water" {
			k.goOn(a)
		}
	case "probe-check", "probe-out", "leak", "drain-check":
		for _, id := range a.pots {
			k.model.Mend(id)
			notes = append(notes, note(a.at, id, sensors.Done, a.kind))
		}
	case "dress-now":
		for _, id := range a.pots {
			notes = append(notes, note(a.at, id, sensors.Dressed, "granules as the label says"))
		}
	default:
		for _, id := range a.pots {
			notes = append(notes, note(a.at, id, sensors.Seen, a.kind))
		}
	}
	return notes
}

// again is a watering of habit: a message about a growing pot says that it will be thirsty again in a day or two, and the keeper goes
// on without another word.
const again = "water again"

// goOn plans what a keeper does after a message about water: every morning for a fortnight, where a pot grows and feels dry.
func (k *Keeper) goOn(a task) {
	k.asked = slices.DeleteFunc(k.asked, func(t task) bool { return t.kind == again && slices.Equal(t.pots, a.pots) })
	for d := 1; d <= 13; d++ {
		k.asked = append(k.asked, task{a.at.AddDate(0, 0, d), again, slices.Clone(a.pots)})
	}
}

// alike adds the pots that a named one speaks for.
func (k *Keeper) alike(pots []string) []string {
	var all []string
	for _, id := range pots {
		p := k.model.garden.Pot(id)
		if p == nil {
			continue
		}
		for _, one := range append(append([]string{id}, p.Relatives...), p.Faster...) {
			if !slices.Contains(all, one) {
				all = append(all, one)
			}
		}
	}
	return all
}

// water gives a pot what was asked for. A frozen pot waits for another morning; so does the keeper.
func (k *Keeper) water(a task, id string) []sensors.Note {
	m := k.model
	i := m.potIndex(id)
	if i < 0 {
		return nil
	}
	p := &m.pots[i]
	if a.kind == again && (p.leaf < 0.2 || p.share() > 0.7) {
		return nil // at rest, or wet enough to the hand
	}
	if p.frozen() > 0.05 {
		k.asked = append(k.asked, task{k.morning(a.at), a.kind, []string{id}})
		return nil
	}
	litres := 0.05 * p.volume() * 1000
	if a.kind != "water-light" {
		litres = max(0, 0.95*p.full*1000-p.water())
	}
	millilitres := 50 * math.Round(litres*1000/50)
	if millilitres <= 0 {
		return nil
	}
	m.Water(id, millilitres)
	return []sensors.Note{note(a.at, id, sensors.Watered, strconv.Itoa(int(millilitres))+" mL")}
}
