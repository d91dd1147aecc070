package alerts

import (
	"time"

	"lathwatch/sensors/garden"
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

// moisture folds a moisture reading into its layer, through the marks valid now.
func (f *Fold) moisture(at time.Time, slot int, u units.Unit, v int64) {
	pf := &f.probes[slot]
	if pf.pot < 0 {
		return
	}
	l := &f.pots[pf.pot].layers[pf.layer]
	l.at = at
	if u == units.Moisture {
		l.share, l.known, l.guess = v, true, false
		return
	}
	var sc garden.Scale
	if sc, l.known = f.scale(at, slot); l.known {
		l.share, l.guess = int64(sc.Of(v)), sc.Guess
	}
}

// scale finds the two marks of a probe valid at an instant; a missing one is borrowed from the pot it is said to be like.
func (f *Fold) scale(at time.Time, slot int) (garden.Scale, bool) {
	full, dry := newestMarks(f.probes[slot].marks, at)
	guess := false
	if full == nil || dry == nil {
		if other := f.likeProbe(slot); other >= 0 {
			bf, bd := newestMarks(f.probes[other].marks, at)
			if full == nil {
				full, guess = bf, true
			}
			if dry == nil {
				dry, guess = bd, true
			}
		}
	}
	if full == nil || dry == nil || full.Raw == dry.Raw {
		return garden.Scale{}, false
	}
	share := int64(dry.Share)
	if share < 0 {
		share = f.dryLimit(f.probes[slot].pot)
	}
	return garden.Scale{FullRaw: full.Raw, DryRaw: dry.Raw, DryShare: share, Guess: guess}, true
}

// dryLimit is what driest-allowed stands for unless the keeper gave a figure.
func (f *Fold) dryLimit(pot int) int64 {
	ps := &f.st.Pots[pot]
	if ps.Regime == nil {
		return 200
	}
	return int64(ps.Regime.Cell(ps.Phase).Low)
}

func (f *Fold) likeProbe(slot int) int {
	pot := f.st.Pots[f.probes[slot].pot].Pot
	if pot.Like == "" {
		return -1
	}
	if j := f.potIndex(pot.Like); j >= 0 && len(f.pots[j].layers) > 0 {
		return f.pots[j].layers[0].probe
	}
	return -1
}

func newestMarks(marks []garden.Mark, at time.Time) (full, dry *garden.Mark) {
	for i := range marks {
		m := &marks[i]
		if m.From.After(at) {
			break
		}
		switch m.Which {
		case garden.DrainedFull:
			full = m
		case garden.DriestAllowed:
			dry = m
		case garden.NewEpoch:
			full, dry = nil, nil
		}
	}
	return full, dry
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
	if out, is := pf.out.Out(); is && pf.temp >= 0 && !now.Before(out) {
		ok = false // the probe is in open air: the pot was not there
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

// gate feeds the frozen gates and reads what may be judged.
func (f *Fold) gate(now time.Time, i int, temp int64, tempOK bool) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if len(pf.layers) == 0 {
		pf.rough.Take(now, temp, tempOK, 0, false)
		ps.Frozen, ps.FrozenSince = pf.rough.Frozen(), pf.rough.Since()
		f.cycles(now, i, &pf.rough)
		return
	}
	ps.Frozen, ps.CheckProbe, ps.NeedsMarks, ps.Rough = false, time.Time{}, false, false
	for l := range pf.layers {
		la := &pf.layers[l]
		fresh := la.at.Equal(now) && la.known
		la.gate.Take(now, temp, tempOK, la.share, fresh)
		if la.gate.Frozen() {
			ps.Frozen, ps.FrozenSince = true, la.gate.Since()
		}
		if since, bad := la.gate.CheckProbe(); bad {
			ps.CheckProbe = since
		}
		ps.NeedsMarks = ps.NeedsMarks || (!la.known && !la.at.IsZero())
		ps.Rough = ps.Rough || la.guess
	}
	f.cycles(now, i, &pf.layers[0].gate)
}

func (f *Fold) cycles(now time.Time, i int, g *indices.FrozenGate) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if g.Cycles() == ps.FreezeThaw+pf.cycles && ps.FreezeThaw30 == 0 {
		return
	}
	ps.FreezeThaw = g.Cycles() - pf.cycles
	ps.FreezeThaw30 = 0
	times := g.CycleTimes()
	for k := len(times) - 1; k >= 0 && now.Sub(times[k]) < 30*24*time.Hour; k-- {
		ps.FreezeThaw30++
	}
}

// water reads the wettest layer that may be judged and runs the dry and wet clocks of the regime's row.
func (f *Fold) water(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if len(pf.layers) == 0 {
		return
	}
	f.probeOut(now, i)
	var buf [4]indices.LayerWet
	layers := buf[:0]
	thawed := time.Time{}
	for l := range pf.layers {
		la := &pf.layers[l]
		w, ok := la.gate.Usable()
		ok = ok && la.known && la.at.Equal(now)
		layers = append(layers, indices.LayerWet{Wet: w, OK: ok})
		if t := la.gate.ThawedFrom(); t.After(thawed) {
			thawed = t
		}
	}
	wet, all, any := indices.Wettest(layers...)
	if since, out := pf.out.Dropped(); out && !now.Before(since) {
		all, any = false, false
	}
	ps.WetnessOK = any
	if !any {
		if pf.layers[0].at.Equal(now) && pf.layers[0].known && !ps.Frozen {
			pf.steps.Take(now, pf.layers[0].share, pf.layers[0].gate.Thawing())
		}
		f.lastThawed(i)
		f.drying(now, i, 0, false)
		return
	}
	ps.Wetness, ps.WetnessAt = units.PerMilleFull(wet), now
	pf.steps.Take(now, wet, pf.layers[0].gate.Thawing())
	f.clocks(now, i, wet, all, thawed)
	f.drying(now, i, wet, all)
}

// lastThawed keeps what the page says of a pot whose reading may not be judged: the last level known, with its date.
func (f *Fold) lastThawed(i int) {
	ps := &f.st.Pots[i]
	for l := range f.pots[i].layers {
		if w, at, ok := f.pots[i].layers[l].gate.LastThawed(); ok && ps.WetnessAt.IsZero() {
			ps.Wetness, ps.WetnessAt = units.PerMilleFull(w), at
		}
	}
}

func (f *Fold) clocks(now time.Time, i int, wet int64, all bool, thawed time.Time) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if ps.Regime == nil {
		ps.DryDays, ps.WetDays, ps.DrySince = 0, 0, time.Time{}
		return
	}
	cell := ps.Regime.Cell(ps.Phase)
	pf.dry.Take(now, wet, all, int64(cell.Low), thawed)
	ps.DryDays, ps.DrySince = pf.dry.Sum().Hours()/24, pf.dry.Since()
	if cell.High > 0 && !pf.steps.WetHeld(now) {
		pf.wet.Take(now, wet, true, int64(cell.High), thawed)
		ps.WetDays = pf.wet.Sum().Hours() / 24
	}
}

func (f *Fold) probeOut(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	la := &pf.layers[0]
	temp, tempOK, air, airOK := int64(0), false, int64(0), false
	if pf.temp >= 0 {
		p := &f.st.Probes[pf.temp]
		temp, tempOK = p.Last.Whole(), p.LastAt.Equal(now) && p.Quality == 0
	}
	if pf.place >= 0 {
		pl := &f.st.Places[pf.place]
		air, airOK = int64(pl.Air), pl.AirAt.Equal(now)
	}
	pf.out.Take(now, indices.LayerWet{Wet: la.share, OK: la.known && la.at.Equal(now)}, temp, tempOK, air, airOK, ps.Frozen)
}

// drying feeds the pot's own dry-down with the reading and the air's dryness where it is known.
func (f *Fold) drying(now time.Time, i int, wet int64, usable bool) {
	pf := &f.pots[i]
	vpd, known := int64(0), false
	if pf.place >= 0 {
		p := &f.st.Places[pf.place]
		if known = p.HumidityAt.Equal(now) && p.AirAt.Equal(now); known {
			vpd = int64(1000 * indices.VPD(p.Air.Celsius(), float64(p.Humidity)/10))
		}
	}
	pf.down.Take(now, wet, usable, vpd, known)
}

// hourly does what need not be done every round.
func (f *Fold) hourly(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	f.phase(now, i)
	f.feed(now, i)
	ps.DaysLeft = Interval{}
	if ps.Regime != nil && ps.WetnessOK {
		if lo, hi, ok := pf.down.DaysLeft(int64(ps.Regime.Cell(ps.Phase).Low)); ok {
			ps.DaysLeft = Interval{lo, hi, true}
		}
	}
}
