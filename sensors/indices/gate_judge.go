package indices

import "time"

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
	if !plateau && lasted(g.plunge, now, gateSettle) {
		g.ref = g.top(now)
		g.freeze(now)
		g.state = gateDoubt
		return
	}
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
	if g.state == gateDoubt && (g.temp <= gateCold || g.held && lasted(g.fall, now, gateSettle)) {
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
	case lasted(g.over2, now, gateNoRise) && g.check.IsZero() && g.lowOK && (g.state == gateFrozen || now.Sub(g.since) >= gateNoRise):
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
