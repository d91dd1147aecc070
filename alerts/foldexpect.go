package alerts

import (
	"math"
	"time"

	"lathwatch/sensors/indices"
	"lathwatch/sensors/units"
)

// How the coming night's minimum is known, from the best to the poorest; PlaceStanding.ExpectedHow is one of them.
const (
	HowForecast   = "forecast"
	HowOwn        = "own nights"
	HowElsewhere  = "forecast for another place"
	HowFewNights  = "few own nights, a guess"
	HowFirst      = "first-season guess"
	HowRough      = "rough, after a gap"
	HowNeighbour  = "as at a place like it, a guess"
	HowLastMinima = "last three minima, a guess"
)

// expect works out what the coming night's minimum at a place is thought to be, by the best that is known.
func (f *Fold) expect(now time.Time, pi int) {
	pl, ps := &f.places[pi], &f.st.Places[pi]
	ps.Expected, ps.ExpectedHow, ps.ExpectedFirm = Interval{}, "", false
	set := func(low, err float64, how string, firm bool) {
		ps.Expected, ps.ExpectedHow, ps.ExpectedFirm = Interval{low - err, low + err, true}, how, firm
	}
	n := &pl.night
	switch {
	case f.forecastFresh(now, pi):
		set(float64(pl.forecast)/1000, 0, HowForecast, true)
	case f.fromForecastElsewhere(now, pi, set):
	case n.estHow != "":
		set(n.est.Low, n.est.Err, n.estHow, true)
	case ps.AirAt.IsZero() || n.doubted:
		f.fromNeighbour(pi, set)
	case n.est != (indices.FrostEstimate{}):
		set(n.est.Low, n.est.Err, n.early, false)
	default:
		if low, err, ok := pl.lows.Ahead(); ok {
			set(float64(low)/1000, float64(err)/1000, HowLastMinima, false)
		}
	}
}

func (f *Fold) expectAll(now time.Time) {
	for i := range f.st.Places {
		f.expect(now, i)
	}
}

// forecast takes a forecast of the coming night's minimum at a place.
func (f *Fold) forecast(at time.Time, pi int, v int64) {
	pl := &f.places[pi]
	news := v != pl.forecast || !f.forecastFresh(at, pi)
	pl.forecast, pl.fcAt = v, at
	if news {
		f.expectAll(at)
	}
}

func (f *Fold) forecastFresh(now time.Time, pi int) bool {
	at := f.places[pi].fcAt
	return !at.IsZero() && now.Sub(at) < forecastFresh
}

// fromForecastElsewhere carries a forecast over from the first place that has one, by the learned difference of their minima.
func (f *Fold) fromForecastElsewhere(now time.Time, pi int, set func(low, err float64, how string, firm bool)) bool {
	for i := range f.places {
		if i == pi || !f.forecastFresh(now, i) || f.st.Places[pi].AirAt.IsZero() {
			continue
		}
		here, errHere := f.offsetOf(pi)
		there, errThere := f.offsetOf(i)
		set((float64(f.places[i].forecast)+float64(here-there))/1000, math.Hypot(errHere, errThere), HowElsewhere, true)
		return true
	}
	return false
}

// offsetOf is how much warmer than the reference a place's clear nights are, m°C, with its spread in °C.
func (f *Fold) offsetOf(pi int) (indices.Milli, float64) {
	if pi == f.reference() {
		return 0, 0
	}
	o, spread, guess := f.places[pi].offset.Offset(false)
	if guess && !f.st.Places[pi].Place.Roof {
		o = 0
	}
	return o, spread
}

// fromNeighbour serves a place without a thermometer, or with one that is not believed: the first place of the same kind of roof
// speaks for it, or failing that another one, by what a roof is guessed to be worth.
func (f *Fold) fromNeighbour(pi int, set func(low, err float64, how string, firm bool)) {
	best := -1
	same := func(i int) bool { return f.st.Places[i].Place.Roof == f.st.Places[pi].Place.Roof }
	for i := range f.st.Places {
		p := &f.st.Places[i]
		if i == pi || p.AirAt.IsZero() || !p.Expected.OK || p.ExpectedHow == HowNeighbour || f.places[i].night.doubted {
			continue
		}
		if best < 0 || same(i) && !same(best) {
			best = i
		}
	}
	if best < 0 {
		return
	}
	p, worth := &f.st.Places[best], 0.0
	if !same(best) {
		var guess indices.PlaceOffset
		o, _, _ := guess.Offset(false)
		if worth = float64(o) / 1000; p.Place.Roof {
			worth = -worth
		}
	}
	set(p.Expected.Mid()+worth, (p.Expected.High-p.Expected.Low)/2, HowNeighbour, p.ExpectedFirm)
}

// Mid is the middle of what is expected, °C.
func (i Interval) Mid() float64 { return (i.Low + i.High) / 2 }

// Shelter is the roofed place expected to stay warmest tonight, for pots that stand at a place without a roof; nil when there is
// none.
func (st *Standing) Shelter(from string) *PlaceStanding {
	at := st.place(from)
	if at == nil || at.Place.Roof {
		return nil
	}
	var best *PlaceStanding
	for i := range st.Places {
		p := &st.Places[i]
		if p.Place.Roof && p.Expected.OK && (best == nil || p.Expected.Mid() > best.Expected.Mid()) {
			best = p
		}
	}
	return best
}

// LeafBelowAir is by how much a leaf at a place is colder than the air on a clear still night: the cautious side where the sky
// is not known.
func (p *PlaceStanding) LeafBelowAir() units.MilliCelsius {
	return units.MilliCelsius(indices.LeafBelowAir(p.Place.Roof, 1))
}
