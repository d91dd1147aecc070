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
	gateCool     Milli = 8000  // up to this no resting pot loses half its water in a day
	gateLeafy    Milli = 3000  // and no pot whose leaves drink
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
	gateDoubt // no ice as far as the thermometer says, but the reading is not believed
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
//   - no rise at all in 72 h over +2 °C: the probe wants looking at, and there is no moisture verdict;
//   - a reading that loses half in a day at up to +8 °C is not believed either: that is ice under a thermometer that is stuck or
//     hangs out, or a probe that lost its grip, never drying.
//
// A pot without a moisture probe is judged roughly: frozen after 3 h at ≤ -0.5 °C, thawed after 36 h over +1 °C. The zero value
// is ready; feed it every round in order of time.
type FrozenGate struct {
	Growing bool // leaves drink: a reading that halves in a day is believed above +3 °C already

	state    gateState
	since    time.Time // of the state
	released time.Time
	thawed   time.Time // thawed days count from here
	believe  time.Time // no verdict before this (24 h of data after a gap)

	ref, oldRef  gateMark    // last reading above +0.3 °C, and the one before the last freeze
	warm         gateMark    // last reading above +1 °C, against a thermometer that is half a degree off
	wet          gateMark    // the newest reading
	tops         [2]gateMark // the highest readings of this half day and the one before
	temp         Milli
	tempAt, seen time.Time
	held         bool
	deep         bool // over half frozen at some time in this freeze
	unsure       bool // frozen before a gap and not seen frozen since
	low          int64
	lowOK        bool
	plunge       time.Time // since when the reading is under half of what it was within a day
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
	g.judgePlunge(now, wet)
	if g.state == gateLiquid && !g.held && g.plunge.IsZero() {
		g.mark(now, wet)
	}
	if g.ref.ok() {
		keep(&g.fall, now, wet*10 < g.ref.wet*8)
		keep(&g.half, now, wet*2 < g.ref.wet)
		keep(&g.back, now, wet*10 >= g.ref.wet*8 && !g.held)
	}
}

func (g *FrozenGate) judgePlunge(now time.Time, wet int64) {
	// Half days of the clock, not of this gate's life: a walk begun elsewhere in the past must come to the same.
	if half := int64(gateData / 2 / time.Second); !g.tops[0].ok() || now.Unix()/half != g.tops[0].at.Unix()/half {
		g.tops = [2]gateMark{{wet, now}, g.tops[0]}
	}
	g.tops[0].wet = max(g.tops[0].wet, wet)
	cool := gateCool
	if g.Growing {
		cool = gateLeafy
	}
	keep(&g.plunge, now, g.temp <= cool && wet*2 < g.top(now).wet && g.top(now).wet-wet > gateRise)
}

// top is the highest reading of the last half to whole day.
func (g *FrozenGate) top(now time.Time) gateMark {
	if m := g.tops[1]; m.ok() && now.Sub(m.at) <= gateData && m.wet > g.tops[0].wet {
		return m
	}
	return g.tops[0]
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
	*g = FrozenGate{Growing: g.Growing, cycles: g.cycles, temp: g.temp, tempAt: g.tempAt, seen: g.seen, held: g.held, over1: g.over1, over2: g.over2, under: g.under}
}
