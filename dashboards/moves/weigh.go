package moves

import (
	"math"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
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
}

// Weighed is the whole table.
type Weighed struct {
	Places  []Place
	Pots    []Pot
	Climate bool // climate figures are there: without them no chance is known
}

// Figures of the weighing. All are guesses: how far a clear spring night falls under the day's mean, what an open roof adds to a
// minimum where nothing was measured, and that neighbouring nights go together, so that a fortnight is seven chances.
const (
	nightDrop   = 5.0
	roofWarmer  = 0.9
	everySecond = 7
)

// Weigh looks a fortnight ahead for every pot at every place.
func Weigh(st *alerts.Standing) Weighed {
	w := Weighed{Climate: st.Climate != nil}
	for i := range st.Places {
		p := &st.Places[i]
		m := Place{ID: p.Place.ID, Name: p.Place.Name, Roof: p.Place.Roof}
		switch {
		case p.Offset.OK:
			m.Warmer, m.Known = p.Offset.Mid(), true
		case p.Place.Roof:
			m.Warmer = roofWarmer
		}
		w.Places = append(w.Places, m)
	}
	for i := range st.Pots {
		if p := &st.Pots[i]; p.Gone.IsZero() {
			w.Pots = append(w.Pots, w.pot(st, p))
		}
	}
	return w
}

func (w *Weighed) pot(st *alerts.Standing, p *alerts.PotStanding) Pot {
	m := Pot{Pot: p.Pot.ID, Place: p.Place, Stage: p.Stage, Limit: limit(p), Wet: math.NaN()}
	for i := range w.Places {
		m.Chance = append(m.Chance, math.NaN())
		if st.Climate != nil {
			below := float64(st.Places[i].LeafBelowAir()) / 1000
			m.Chance[i] = chance(*st.Climate, st.Cal.Northern(st.Day), m.Limit+below-w.Places[i].Warmer)
		}
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

// limit is the leaf temperature at which harm begins near for a stage, °C: growers' figures, guesses. A closed nose under the grit is
// not limited by the air; the root is.
func limit(p *alerts.PotStanding) float64 {
	early := p.Plant != nil && p.Plant.Earliness == garden.Early
	switch p.Stage {
	case alerts.Nose:
		return -5
	case alerts.Opening, alerts.Open:
		if early {
			return -1
		}
		return -2
	case alerts.Bud, alerts.Flower:
		return -1.5
	}
	return math.Inf(-1)
}

// chance is that of one night or more with an air minimum at the reference under a limit, in the fortnight from a day of the
// northern calendar.
func chance(n garden.Normals, from garden.Date, air float64) float64 {
	none := 1.0
	for k := range garden.Date(everySecond) {
		mean, spread := indices.ClimateOn(n, from+2*k)
		if math.IsInf(air, -1) {
			continue
		}
		if spread <= 0 {
			spread = 0.1
		}
		none *= 1 - math.Erfc((mean-nightDrop-air)/spread/math.Sqrt2)/2
	}
	return 1 - none
}
