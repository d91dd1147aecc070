package alerts

import (
	"time"

	"lathwatch/sensors/indices"
	"lathwatch/sensors/units"
)

// stale is the age beyond which a reading says nothing about now.
const stale = 2 * time.Hour

// frostAhead asks the forecast if there is one of the last day, else the last three minima.
func (f *Fold) frostAhead(at time.Time, pi int) {
	pl, ps := &f.places[pi], &f.st.Places[pi]
	if !pl.fcAt.IsZero() && at.Sub(pl.fcAt) < 24*time.Hour {
		ps.FrostAhead, ps.FrostKnown, ps.FrostHow = pl.forecast <= 0, true, "forecast"
		return
	}
	ps.FrostAhead, ps.FrostKnown = pl.lows.FrostAhead(0)
	ps.FrostHow = "last three minima, a guess"
}

// pot takes a pot one round on, after every reading of the round is in its place.
func (f *Fold) pot(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	temp, tempOK := f.potTemp(now, i)
	if tempOK && ps.TempOwn {
		f.heat(now, i, temp)
	}
	f.gate(now, i, temp, tempOK)
	f.water(now, i)
	if h := now.Unix() / 3600; h != pf.hour {
		pf.hour = h
		f.hourly(now, i)
	}
	low, high := pf.cold.Credit(pf.days.Today)
	ps.ColdCredit = Interval{low, high, !pf.cold.Start.IsZero()}
	ps.ColdStart = pf.cold.Start
	ps.Cold = coldWord(ps.ColdCredit, pf.cold.Bounds, pf.coldDone)
	ps.Forcing = pf.forcingNow()
}

func coldWord(c Interval, b indices.ColdBounds, done bool) Cold {
	switch {
	case done && c.Low < b.Plenty:
		return Enough
	case !c.OK:
		return ColdUnknown
	case c.Low >= b.Plenty:
		return Plenty
	case c.Low >= b.Enough:
		return Enough
	}
	return NotYet
}

// potTemp gives the pot's temperature now: its own probe's, or where it has none, the air's where it stands.
func (f *Fold) potTemp(now time.Time, i int) (int64, bool) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	v, ok := int64(0), false
	if pf.temp >= 0 {
		if p := &f.st.Probes[pf.temp]; p.LastAt.Equal(now) && p.Quality == 0 && p.Fault == 0 {
			v, ok = p.Last.Whole()+offsetAt(p.Probe, now), true
		}
	} else if pf.place >= 0 {
		if pl := &f.st.Places[pf.place]; pl.AirAt.Equal(now) {
			v, ok = int64(pl.Air), true
		}
	}
	if pf.temp >= 0 && f.inOpenAir(now, i) {
		ok = false // what the thermometer feels is not the pot
	}
	if !ok {
		return 0, false
	}
	ps.Temp, ps.TempAt, ps.TempOwn = units.MilliCelsius(v), now, pf.temp >= 0
	if seg, joined := pf.trace.Take(now, v); joined {
		pf.days.Take(seg, func(d indices.Day) { f.potDay(i, d) })
	}
	return v, true
}

// hourly does what need not be done every round.
func (f *Fold) hourly(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	f.phase(now, i)
	f.feed(now, i)
	f.waterHour(now, i)
	ps.DryPerDay = 0
	if rate, _, own := pf.down.Rate(); own {
		ps.DryPerDay = rate
	}
	if len(pf.layers) == 0 {
		f.daysByWeight(now, i)
		return
	}
	ps.DaysLeft = Interval{}
	if ps.Regime != nil && ps.WetnessOK {
		if lo, hi, ok := pf.down.DaysLeft(int64(ps.Regime.Cell(ps.Phase).Low)); ok {
			ps.DaysLeft = Interval{lo, hi, true}
		}
	}
}
