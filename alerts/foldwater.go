package alerts

import (
	"math"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/units"
)

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
		la.gate.Growing = ps.Phase == garden.Growth
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
	if g.Cycles() == ps.FreezeThaw+pf.cycles && (ps.FreezeThaw30 == 0 || now.Unix()/3600 == pf.hour) {
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
		ps.WetnessOK = ps.WetnessOK && now.Sub(ps.WetnessAt) <= stale // by weight
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
		if la.known && la.first.IsZero() {
			la.first = la.at
		}
		if t := la.gate.ThawedFrom(); t.After(thawed) && !t.Before(la.first) { // what it held before its first reading nobody knows
			thawed = t
		}
	}
	if la := &pf.layers[0]; la.known && la.at.Equal(now) {
		f.leapt(now, i, la.share) // also while the reading may not be judged: what leapt then is no rise afterwards
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
	f.runClocks(now, i, wet, all, thawed)
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

// The salts of a noted feed lift a reading by up to this, and not only while WetHeld: for a week a pot is called wet only for what is
// beyond them (growers report some six points; the figures are guesses).
const (
	saltPoints = 60 // ‰
	saltDays   = 7 * 24 * time.Hour
)

// resetClocks starts the dry and wet counts anew: days before a change of regime or season do not count.
func (f *Fold) resetClocks(at time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	pf.dry.Reset()
	pf.wet.Reset()
	pf.clocks = at
	ps.DryDays, ps.WetDays, ps.DrySince = 0, 0, time.Time{}
}

func (f *Fold) runClocks(now time.Time, i int, wet int64, all bool, thawed time.Time) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if ps.Regime == nil {
		ps.DryDays, ps.WetDays, ps.DrySince = 0, 0, time.Time{}
		return
	}
	if thawed.Before(pf.clocks) {
		thawed = time.Time{}
	}
	cell := ps.Regime.Cell(ps.Phase)
	pf.dry.Take(now, wet, all, int64(cell.Low), thawed)
	ps.DryDays, ps.DrySince = pf.dry.Sum().Hours()/24, pf.dry.Since()
	if ps.WetHeld = pf.steps.WetHeld(now) || pf.leap.held(wet); cell.High > 0 && !ps.WetHeld {
		if !ps.Fed.IsZero() && now.Sub(ps.Fed) < saltDays {
			wet -= saltPoints
		}
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

// inOpenAir says that the pot's thermometer tells of the air: its moisture probe fell to nothing from one sample to the next and it
// is not settled yet, or settled, that both were pulled out.
func (f *Fold) inOpenAir(now time.Time, i int) bool {
	pf := &f.pots[i]
	if _, out := pf.out.Out(); out {
		return true
	}
	since, dropped := pf.out.Dropped()
	return dropped && now.Sub(since) <= stale
}

// hourWet is a pot's wetness at the end of an hour.
type hourWet struct {
	hour int64
	wet  int64
}

// waterHour keeps a day of hourly levels and what follows from them.
func (f *Fold) waterHour(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	ps.ProbeOut, ps.Contact = time.Time{}, time.Time{}
	if since, out := pf.out.Out(); out {
		ps.ProbeOut = since
	}
	if at, poor := pf.steps.PoorContact(); poor {
		ps.Contact = at
	}
	ps.Step, ps.StepOK = pf.steps.Last()
	h := now.Unix() / 3600
	if ps.WetnessOK {
		pf.fall[h%25] = hourWet{h, int64(ps.Wetness)}
	}
	ps.Falling = pf.falling(h)
}

// falling is how fast the water left goes, per day as a logarithm, over the last day or since water last came; 0 while under twelve
// hours are known.
func (pf *potFold) falling(h int64) float64 {
	newest, oldest := hourWet{}, hourWet{}
	for k := h; k > h-25; k-- {
		w := pf.fall[k%25]
		if w.hour != k {
			continue
		}
		if newest.hour == 0 {
			newest = w
		} else if w.wet < oldest.wet-feelSlack {
			break // water came after this
		}
		oldest = w
	}
	days := float64(newest.hour-oldest.hour) / 24
	if days < 0.5 || newest.wet <= 0 || oldest.wet <= newest.wet {
		return 0
	}
	return math.Log(float64(oldest.wet)/float64(newest.wet)) / days
}

// mildAir is the air above which a battery's charge is read: cells sag in the cold and come back.
const mildAir = 2000

// battery keeps the newest charge read in mild air: the coldest air known speaks for the node.
func (f *Fold) battery(at time.Time, slot int, r *sensors.Reading) {
	for i := range f.st.Places {
		if p := &f.st.Places[i]; !p.AirAt.IsZero() && at.Sub(p.AirAt) <= stale && p.Air < mildAir {
			return
		}
	}
	f.st.Probes[slot].Mild, f.st.Probes[slot].MildAt = *r, at
}

// A reading that leaps up from one sample to the next was poured on, or its probe has failed: no drip and no rain does that. Without
// a note it is not called wet until it has stirred again, as wet mix does and a failed probe does not; and one that leapt to far more
// than the pot keeps after draining, as an input with nothing attached does, not before it has drained.
const (
	leapUp    = 80   // ‰ between two samples
	leapOver  = 1300 // ‰: 30 % over drained-full
	neverWet  = 1450 // ‰: nor after a watering, for hardly a mix holds half as much again (porosity to container capacity; a guess)
	leapStirs = 6    // ‰ of movement that shows life
	leapApart = 75 * time.Minute
)

// leapFold watches for leaps.
type leapFold struct {
	at     time.Time // of the last sample
	wet    int64
	leapt  time.Time
	lo, hi int64
	still  bool // since the leap
	over   bool // it leapt to far over drained-full, and has not drained since
	noted  bool // a note explains it
}

// held says that the pot must not be called wet for a leap.
func (l *leapFold) held(wet int64) bool { return l.still || l.over && (wet >= neverWet || !l.noted) }

func (f *Fold) leapt(now time.Time, i int, wet int64) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	l := &pf.leap
	switch {
	case !l.at.IsZero() && now.Sub(l.at) <= leapApart && wet-l.wet >= leapUp:
		l.leapt, l.lo, l.hi, l.still, l.over, l.noted = now, wet, wet, true, l.over || wet >= leapOver, false
	case l.still || l.over:
		l.lo, l.hi = min(l.lo, wet), max(l.hi, wet)
		if since := l.leapt.Add(-12 * time.Hour); now.Sub(l.leapt) < 12*time.Hour && (ps.Watered.After(since) || ps.Fed.After(since)) {
			l.noted = true
		}
		l.still = l.still && l.hi-l.lo < leapStirs && !l.noted
		l.over = wet >= leapOver
	}
	l.at, l.wet = now, wet
	ps.Leapt = !l.leapt.IsZero() && !l.leapt.Before(ps.Step.Start.Add(-time.Hour))
}
