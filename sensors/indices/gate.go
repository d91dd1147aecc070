package indices

import "time"

// Milli is a temperature in thousandths of a degree Celsius.
type Milli = int64

// Limits of the frozen gate. The temperatures are those of the plateau (0.0 ± 0.3 °C) that latent heat holds a wet pot on; the
// shares follow from a probe reading a fifth or a quarter in frozen mix. The times are chosen, not published: growers report 25
// to 63 h from the wall thermometer's first +1 °C to the last ice in a 3 L pot.
const (
	gateHold     Milli = 300   // at or below this a reading is not judged
	gateCold     Milli = -1000 // at or below this a pot is frozen whatever it reads
	gateWarm     Milli = 1000  // above this a flat reading may be believed
	gateThaw     Milli = 2000  // above this a thaw must show within gateNoRise
	gateRough    Milli = -500  // thermometer-only pots: frozen below this for 3 h
	gateSafe     Milli = 5000  // a pot this warm on both sides of a short gap has not been ice in between
	gateFlat           = 20    // ‰: a level is flat while its hourly means stay within this
	gateRise           = 30    // ‰: the least rise off the frozen level that counts as thaw
	gateSettle         = 20 * time.Minute
	gateFlatFor        = 24 * time.Hour
	gateNoRise         = 72 * time.Hour
	gateSurely         = 120 * time.Hour // no ice is left in a pot of up to 7 L after this over +2 °C
	gateLost           = 3 * time.Hour   // not observed for longer: the freeze state is unknown
	gateData           = 24 * time.Hour  // of data before a verdict after a gap
	gateRoughIn        = 3 * time.Hour
	gateRoughOut       = 36 * time.Hour
	gateWetGone        = 6 * time.Hour // without a moisture reading for this the thermometer judges alone
)

type gateState uint8

const (
	gateUnknown gateState = iota // not judged yet, or not since a gap
	gateLiquid
	gateFrozen
	gateDoubt // warm for days without any rise: the reading is not believed, but there is no ice either
)

// FrozenGate says whether a pot's moisture reading may be judged. A frozen pot reads dry because ice is nearly invisible to a
// moisture probe, and goes on reading dry after its thermometer has passed zero, so the gate looks for the reading's own recovery:
//
//   - a reading at pot temperature ≤ +0.3 °C is held; the reference is the last reading above that;
//   - FROZEN once a held reading has fallen below 80 % of the reference, or the pot is at ≤ -1 °C;
//   - released (a) when the reading is back to 80 % of the reference above +0.3 °C, or (b) when it has risen clearly off the
//     frozen level (3 points and a fifth of what it lost) and its hourly means stayed within 2 points for 24 h with the pot
//     over +1 °C: then the new level is believed, thawed from the start of the flat stretch; (c) a reading that rose only a
//     little is believed after 120 h over +2 °C, when no ice can be left;
//   - no rise at all in 72 h over +2 °C: the probe wants looking at, and there is no moisture verdict.
//
// A pot without a moisture probe is judged roughly: frozen after 3 h at ≤ -0.5 °C, thawed after 36 h over +1 °C. The zero value
// is ready; feed it every round in order of time.
type FrozenGate struct {
	state    gateState
	since    time.Time // of the state
	released time.Time
	thawed   time.Time // thawed days count from here
	believe  time.Time // no verdict before this (24 h of data after a gap)

	ref, oldRef  gateMark // last reading above +0.3 °C, and the one before the last freeze
	warm         gateMark // last reading above +1 °C, against a thermometer that is half a degree off
	wet          gateMark // the newest reading
	temp         Milli
	tempAt, seen time.Time
	held         bool
	deep         bool // over half frozen at some time in this freeze
	unsure       bool // frozen before a gap and not seen frozen since
	low          int64
	lowOK        bool
	fall, half   time.Time // since when the reading is under 80 % and 50 % of the reference
	back         time.Time // since when it is back over 80 %
	over1, over2 time.Time // since when the pot is over +1 and +2 °C without a break
	under        time.Time // since when it is at or below -0.5 °C
	check        time.Time
	flat         flatRun
	cycles       []time.Time
}

type gateMark struct {
	wet int64
	at  time.Time
}

func (m gateMark) ok() bool { return !m.at.IsZero() }

// Take feeds one round: the pot's temperature in m°C and its moisture in ‰ of drained-full, each with whether it was read.
func (g *FrozenGate) Take(now time.Time, pot Milli, potOK bool, wet int64, wetOK bool) {
	if !potOK && !wetOK {
		return
	}
	if !g.seen.IsZero() && now.Sub(g.seen) > gateLost && !g.safeAcross(now, pot, potOK) {
		g.Gap(now)
	}
	g.seen = now
	if potOK {
		g.takeTemp(now, pot)
	}
	if g.tempAt.IsZero() || now.Sub(g.tempAt) > gateLost {
		g.held = true // without a thermometer nothing can be told from ice
		return
	}
	if wetOK {
		g.takeWet(now, wet)
		g.judge(now)
	} else if !g.wet.ok() || now.Sub(g.wet.at) > gateWetGone {
		g.judgeRoughly(now)
	}
}

func (g *FrozenGate) safeAcross(now time.Time, pot Milli, potOK bool) bool {
	return potOK && pot > gateSafe && g.temp > gateSafe && g.state == gateLiquid && now.Sub(g.seen) < 12*time.Hour
}

func (g *FrozenGate) takeTemp(now time.Time, pot Milli) {
	g.temp, g.tempAt, g.held = pot, now, pot <= gateHold
	keep(&g.over1, now, pot > gateWarm)
	if pot <= gateHold {
		g.over2 = time.Time{}
	} else if pot > gateThaw && g.over2.IsZero() {
		g.over2 = now
	}
	keep(&g.under, now, pot <= gateRough)
}

// keep holds the start of an unbroken spell.
func keep(since *time.Time, now time.Time, on bool) {
	if !on {
		*since = time.Time{}
	} else if since.IsZero() {
		*since = now
	}
}

func lasted(since, now time.Time, d time.Duration) bool {
	return !since.IsZero() && now.Sub(since) >= d
}

func (g *FrozenGate) takeWet(now time.Time, wet int64) {
	if g.wet.ok() && now.Sub(g.wet.at) > gateLost && g.temp <= gateWarm {
		g.believe = now.Add(gateData) // the probe was away while the pot may have frozen
	}
	g.wet = gateMark{wet, now}
	g.flat.take(now, wet, !g.over1.IsZero())
	if g.state == gateLiquid && !g.held {
		g.mark(now, wet)
	}
	if g.ref.ok() {
		keep(&g.fall, now, wet*10 < g.ref.wet*8)
		keep(&g.half, now, wet*2 < g.ref.wet)
		keep(&g.back, now, wet*10 >= g.ref.wet*8 && !g.held)
	}
}

// mark moves the reference on. For a day after a thaw the level before the freeze stands in for it, or nightly freezing with
// half a thaw at noon would walk the reference down.
func (g *FrozenGate) mark(now time.Time, wet int64) {
	if g.temp > gateWarm {
		g.warm = gateMark{wet, now}
	} else if g.warm.ok() && wet*10 < g.warm.wet*8 && now.Sub(g.warm.at) < gateData {
		g.ref = g.warm // falls too fast for drying this near zero: ice under a thermometer that reads high
		return
	}
	g.ref = gateMark{wet, now}
	if g.oldRef.ok() && now.Sub(g.released) >= gateData {
		g.oldRef = gateMark{}
	}
}

func (g *FrozenGate) judge(now time.Time) {
	switch g.state {
	case gateUnknown:
		g.judgeUnknown(now)
	case gateLiquid:
		g.judgeLiquid(now)
	default:
		g.judgeFrozen(now)
	}
}

func (g *FrozenGate) judgeLiquid(now time.Time) {
	plateau := g.held || g.temp <= gateWarm
	if g.temp > gateCold && !(plateau && lasted(g.fall, now, gateSettle)) {
		return
	}
	if g.oldRef.ok() && g.oldRef.wet > g.ref.wet {
		g.ref = g.oldRef
	}
	g.freeze(now)
}

func (g *FrozenGate) freeze(now time.Time) {
	g.state, g.since, g.deep = gateFrozen, now, false
	g.low, g.lowOK, g.back = 0, false, time.Time{}
	g.judgeDeep(now)
}

func (g *FrozenGate) judgeDeep(now time.Time) {
	if g.temp <= gateCold || g.held && lasted(g.half, now, gateSettle) {
		g.deep = true
	}
}

func (g *FrozenGate) judgeFrozen(now time.Time) {
	g.judgeDeep(now)
	if g.temp <= gateCold || g.held && lasted(g.fall, now, gateSettle) {
		g.unsure = false
	}
	if mean, ok := g.flat.lastHour(); ok && (!g.lowOK || mean < g.low) {
		g.low, g.lowOK = mean, true
	}
	if g.state == gateDoubt && g.temp <= gateCold {
		g.state, g.since = gateFrozen, now
	}
	if lasted(g.back, now, gateSettle) {
		g.release(now, g.back)
		return
	}
	rise, lost := g.rise()
	if from, level, ok := g.flat.since(now, gateFlatFor); ok && g.temp > gateWarm {
		enough := level-g.low >= gateRise && (level-g.low)*5 >= lost
		if enough || rise && lasted(g.over2, now, gateSurely) {
			g.release(now, from)
			return
		}
	}
	switch {
	case rise:
		g.check = time.Time{}
	case lasted(g.over2, now, gateNoRise) && g.state == gateFrozen && g.lowOK:
		g.state, g.since, g.check = gateDoubt, now, now
	}
}

// rise says whether the reading has moved off the frozen level at all, and how much it had lost.
func (g *FrozenGate) rise() (bool, int64) {
	if !g.lowOK {
		return false, 0
	}
	bar, lost := int64(gateRise), int64(0)
	if g.ref.ok() {
		lost = max(g.ref.wet-g.low, 0)
		bar = min(bar, (lost+1)/2)
	}
	mean, ok := g.flat.lastHour()
	return ok && mean-g.low >= max(bar, 1), lost
}

// judgeUnknown decides after a gap or a first reading, when there may be ice that nobody saw form.
func (g *FrozenGate) judgeUnknown(now time.Time) {
	first := !g.ref.ok() && g.since.IsZero()
	switch {
	case g.temp <= gateCold:
		g.freeze(now)
		return
	case !g.held && first:
		g.release(now, now) // the very first reading, above zero: taken as liquid
		g.mark(now, g.wet.wet)
		return
	case lasted(g.back, now, gateSettle):
		g.release(now, g.back)
		return
	case g.held && g.ref.ok() && lasted(g.fall, now, gateSettle):
		g.freeze(now)
		return
	}
	if g.since.IsZero() {
		g.since = now
	}
	if mean, ok := g.flat.lastHour(); ok && (!g.lowOK || mean < g.low) {
		g.low, g.lowOK = mean, true
	}
	rise, _ := g.rise()
	need := 2 * gateFlatFor // flat from the start may still be ice in the core
	if rise {
		need = gateFlatFor
	}
	if from, _, ok := g.flat.since(now, need); ok && g.temp > gateWarm {
		g.release(now, from)
	}
}

// judgeRoughly serves a pot that has no moisture reading.
func (g *FrozenGate) judgeRoughly(now time.Time) {
	switch {
	case g.state != gateFrozen && (lasted(g.under, now, gateRoughIn) || g.wet.ok() && g.temp <= gateCold):
		g.freeze(now)
	case g.state == gateFrozen:
		g.judgeDeep(now)
		if lasted(g.over1, now, gateRoughOut) {
			g.release(now, now)
		}
	case g.state == gateUnknown && !g.held && (g.since.IsZero() || lasted(g.over1, now, gateRoughOut)):
		g.release(now, now)
	case g.since.IsZero():
		g.since = now
	}
}

func (g *FrozenGate) release(now, from time.Time) {
	if g.state != gateUnknown || g.lowOK {
		g.released = now
		if g.ref.ok() {
			g.oldRef = g.ref
		}
	}
	if g.deep {
		g.cycles = append(g.cycles, from)
	}
	g.state, g.since, g.thawed = gateLiquid, now, from
	g.deep, g.lowOK, g.unsure, g.check = false, false, false, time.Time{}
	g.fall, g.half = time.Time{}, time.Time{}
	if !g.held && g.wet.ok() && g.wet.at.Equal(now) {
		g.mark(now, g.wet.wet)
	}
}

// Gap tells the gate that the pot was not observed up to now for longer than three hours: whether it froze is unknown until
// judged anew, and moisture verdicts wait for 24 h of data. Take finds such gaps by itself; a short one in a warm pot is let be.
func (g *FrozenGate) Gap(now time.Time) {
	if g.seen.IsZero() {
		return
	}
	if g.state == gateFrozen {
		g.unsure = true
	} else {
		g.state, g.since, g.lowOK = gateUnknown, now, false
	}
	g.believe = now.Add(gateData)
	g.fall, g.half, g.back = time.Time{}, time.Time{}, time.Time{}
	g.over1, g.over2, g.under = time.Time{}, time.Time{}, time.Time{}
	g.flat = flatRun{}
}

// Reseated forgets the reference: after repotting or a re-seated probe the old level means nothing.
func (g *FrozenGate) Reseated(now time.Time) {
	*g = FrozenGate{cycles: g.cycles, temp: g.temp, tempAt: g.tempAt, seen: g.seen, held: g.held, over1: g.over1, over2: g.over2, under: g.under}
}
