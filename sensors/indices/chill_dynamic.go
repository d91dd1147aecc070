package indices

import (
	"math"
	"sync"
)

// Constants of the Dynamic Model (Fishman, Erez & Couvillon 1987; Erez et al. 1990). Its temperatures are °C + 273, not + 273.15:
// the melting constant 277 means 4 °C.
const (
	dynE0, dynE1  = 4153.5, 12888.8
	dynA0, dynA1  = 139500.0, 2.567e18
	dynSlope      = 1.6
	dynTf         = 277.0
	dynKelvinZero = 273.0
)

// A dynStep is what one hour at one temperature does: the store moves towards level, keeping the share keep of its distance;
// once full, the share fixed of it becomes portions for good.
type dynStep struct{ level, keep, fixed float64 }

func dynStepAt(k float64) dynStep {
	s := math.Exp(dynSlope * dynTf * (k - dynTf) / k)
	return dynStep{
		level: dynA0 / dynA1 * math.Exp((dynE1-dynE0)/k),
		keep:  math.Exp(-dynA1 * math.Exp(-dynE1/k)),
		fixed: s / (1 + s),
	}
}

// DynamicModel counts chill portions from hourly temperatures. Chill is laid by in a store that warmth empties again; each time
// the store is full, part of it is fixed as portions. The zero value is a winter's start. For an hour without a reading do not
// step: the store stands still.
type DynamicModel struct {
	// KelvinZero is what is added to °C; 0 means the model's own 273. The physical 273.15 changes the figures, by a fifth near 0 °C.
	KelvinZero float64

	store, portions float64
}

// Hour steps one hour at t °C, −40 to 60.
func (m *DynamicModel) Hour(t float64) {
	zero := m.KelvinZero
	if zero == 0 {
		zero = dynKelvinZero
	}
	m.step(dynStepAt(t + zero))
}

func (m *DynamicModel) step(s dynStep) {
	m.store = s.level - (s.level-m.store)*s.keep
	if m.store >= 1 {
		gain := m.store * s.fixed
		m.portions += gain
		m.store -= gain
	}
}

// Portions is the sum of chill portions so far.
func (m *DynamicModel) Portions() float64 { return m.portions }

// Store is how full the store is that the next portion comes from, 0 to about 1.
func (m *DynamicModel) Store() float64 { return m.store }

// The table spans what a 1/16 °C probe can say, −55 to 125 °C.
const sixteenthsLow, sixteenthsHigh = -55 * 16, 125 * 16

var dynTable = sync.OnceValue(func() []dynStep {
	t := make([]dynStep, sixteenthsHigh-sixteenthsLow+1)
	for i := range t {
		t[i] = dynStepAt(float64(i+sixteenthsLow)/16 + dynKelvinZero)
	}
	return t
})

// HourSixteenths steps one hour at n sixteenths of a degree Celsius, the step of common digital probes, from a table instead of
// exponentials. It uses the model's own 273 whatever KelvinZero says; readings beyond −55 to 125 °C are taken as the nearer end.
func (m *DynamicModel) HourSixteenths(n int) {
	m.step(dynTable()[min(max(n, sixteenthsLow), sixteenthsHigh)-sixteenthsLow])
}
