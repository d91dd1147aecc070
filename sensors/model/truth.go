package model

import (
	"math"
	"time"

	"lathwatch/sensors"
)

// Now is the instant the model has lived to.
func (m *Model) Now() time.Time { return m.at }

// Sky is the weather of that instant.
func (m *Model) Sky() Sky { return m.now }

// Snow is what lies in the open, mm of water.
func (m *Model) Snow() float64 { return m.snow }

// Air is the true air temperature of a place, °C; NaN for an unknown one.
func (m *Model) Air(place string) float64 {
	if i := m.placeIndex(place); i >= 0 {
		return m.places[i].air
	}
	return math.NaN()
}

// Truth is what is true of a pot and no probe tells.
type Truth struct {
	Share   float64 // water over drained-full, ice included
	Frozen  float64 // share of the water that is ice
	Core    float64 // °C
	Heat    float64 // MJ, nought with all water frozen at 0 °C
	Litres  float64 // of water
	Credit  float64 // days of cold so far
	Forcing float64 // °C·d over 5 °C since there was cold enough
	Leaf    float64 // 0..1
	Stage   sensors.What
	Place   string
	Ledger  Ledger
}

// Truth gives what is true of a pot now; ok is false for an unknown one.
func (m *Model) Truth(pot string) (t Truth, ok bool) {
	i := m.potIndex(pot)
	if i < 0 {
		return t, false
	}
	p := &m.pots[i]
	t = Truth{Share: p.share(), Frozen: p.frozen(), Core: p.core(), Heat: p.heat(), Litres: p.water(), Credit: p.credit, Forcing: p.forcing, Leaf: p.leaf, Ledger: p.ledger}
	if p.down && p.stage > 0 {
		t.Stage = stages[p.stage-1].what
	}
	if p.place >= 0 {
		t.Place = m.garden.Places[p.place].ID
	}
	return t, true
}
