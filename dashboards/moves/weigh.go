package moves

import (
	"math"

	"lathwatch/alerts"
	"lathwatch/sensors/indices"
)

// A Place is where pots stand or could stand, with how its nights lie to the reference place's.
type Place struct {
	ID, Name string
	Roof     bool
	Warmer   float64 // °C its minimum lay over the reference's on the last night watched at both
	Known    bool    // it was watched; else the guess for a roof is used
}

// A Pot is one pot's two sides of a move.
type Pot struct {
	Pot, Place string
	Stage      alerts.Stage
	Limit      float64   // °C a leaf of its stage bears, a guess
	Chance     []float64 // by Weighed.Places: of one night or more in the fortnight under the limit; NaN: not known
	Wet        float64   // share of drained-full now, 0..1; NaN: not known
	ToHalf     float64   // days until it would be at a half in usual air, by the guess for its kind; 0: it is

	index int // in the Standing's pots
}

// Weighed is the whole table.
type Weighed struct {
	Places  []Place
	Pots    []Pot
	Climate bool // climate figures are there: without them no chance is known
	Bulks   []Bulk
}

// Weigh looks a fortnight ahead for every pot at every place.
func Weigh(st *alerts.Standing) Weighed {
	w := Weighed{Climate: st.Climate != nil}
	for i := range st.Places {
		p := &st.Places[i]
		m := Place{ID: p.Place.ID, Name: p.Place.Name, Roof: p.Place.Roof}
		m.Warmer, m.Known = p.Warmer()
		w.Places = append(w.Places, m)
	}
	for i := range st.Pots {
		if p := &st.Pots[i]; p.Gone.IsZero() {
			w.Pots = append(w.Pots, w.pot(st, p, i))
		}
	}
	w.Bulks = w.bulks(st)
	return w
}

func (w *Weighed) pot(st *alerts.Standing, p *alerts.PotStanding, index int) Pot {
	m := Pot{Pot: p.Pot.ID, Place: p.Place, Stage: p.Stage, Limit: p.StageLimit(), Wet: math.NaN(), index: index}
	for i := range w.Places {
		chance, _ := st.NightChance(&st.Places[i], m.Limit)
		m.Chance = append(m.Chance, chance)
	}
	if p.WetnessOK {
		m.Wet = float64(p.Wetness) / 1000
		rate, _, _ := indices.NewDryDown(indices.PotKind{Clay: p.Pot.Clay, Litres: p.Pot.Litres.Litres()}).Rate()
		if m.Wet > 0.5 && rate > 0 {
			m.ToHalf = math.Log(m.Wet/0.5) / rate
		}
	}
	return m
}
