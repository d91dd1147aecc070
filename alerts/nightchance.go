package alerts

import (
	"math"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// Figures of a fortnight's nights. All are guesses: how far a clear spring night falls under the day's mean, what an open roof adds
// to a minimum where nothing was measured, and that neighbouring nights go together, so that a fortnight is seven chances.
const (
	nightDrop   = 5.0
	roofWarmer  = 0.9
	everySecond = 7
)

// StageLimit is the leaf temperature at which harm begins near for what a plant shows, °C: growers' figures, guesses. A closed nose
// under the grit is not limited by the air; the root is.
func (p *PotStanding) StageLimit() float64 {
	switch p.Stage {
	case Nose:
		return -5
	case Opening, Open:
		return p.OpeningLimit()
	case Bud, Flower:
		return -1.5
	}
	return math.Inf(-1)
}

// OpeningLimit is StageLimit for an opening shoot: what a growing plant will be within a fortnight.
func (p *PotStanding) OpeningLimit() float64 {
	if p.Plant != nil && p.Plant.Earliness == garden.Early {
		return -1
	}
	return -2
}

// Warmer is by how much a place's minima lie over the reference place's, °C; known is false where the guess for a roof, or nought, stands
// in for a night watched.
func (p *PlaceStanding) Warmer() (celsius float64, known bool) {
	switch {
	case p.Offset.OK:
		return p.Offset.Mid(), true
	case p.Place.Roof:
		return roofWarmer, false
	}
	return 0, false
}

// NightChance is the chance that the fortnight from today has at least one night at a place that passes a leaf's limit, °C, by the
// garden's climate figures; ok is false without them.
func (st *Standing) NightChance(place *PlaceStanding, leaf float64) (chance float64, ok bool) {
	if st.Climate == nil {
		return math.NaN(), false
	}
	warmer, _ := place.Warmer()
	air := leaf + place.LeafBelowAir().Celsius() - warmer
	if math.IsInf(air, -1) {
		return 0, true
	}
	none := 1.0
	for k := range garden.Date(everySecond) {
		mean, spread := indices.ClimateOn(*st.Climate, st.Cal.Northern(st.Day)+2*k)
		none *= 1 - math.Erfc((mean-nightDrop-air)/max(spread, 0.1)/math.Sqrt2)/2
	}
	return 1 - none, true
}
