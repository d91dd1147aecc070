package indices

import "time"

// LayerWet is one moisture probe of a pot, ‰ of drained-full, and whether it may be judged.
type LayerWet struct {
	Wet int64
	OK  bool
}

// Wettest gives the wettest layer that may be judged. The top of a pot dries first and lies; a pot is dry right through only
// when its wettest layer is dry. all is false when a layer could not be judged: then "dry right through" cannot be said.
func Wettest(layers ...LayerWet) (wet int64, all, ok bool) {
	all = len(layers) > 0
	for _, l := range layers {
		if !l.OK {
			all = false
			continue
		}
		if !ok || l.Wet > wet {
			wet, ok = l.Wet, true
		}
	}
	return wet, all, ok
}

// DryThrough says that every layer is known and the wettest is below the limit in ‰ of drained-full.
func DryThrough(limit int64, layers ...LayerWet) bool {
	wet, all, _ := Wettest(layers...)
	return all && wet < limit
}

// clockBack is how far a reading must come back past the limit before the count starts anew.
const clockBack = 20

// levelClock sums thawed time on one side of a limit.
type levelClock struct {
	last  time.Time // the newest usable reading
	on    bool
	sum   time.Duration
	since time.Time
}

// take counts the time since the last usable reading when that is under 3 h, or since the pot counts as thawed when the
// readings between could not be judged. Frozen, held or missing time neither counts nor resets.
func (c *levelClock) take(now time.Time, past, back, usable bool, thawedFrom time.Time) {
	if !usable {
		return
	}
	was, from := c.on, c.last
	switch {
	case back:
		c.on, c.sum, c.since = false, 0, time.Time{}
	case past && !c.on:
		c.on, c.since = true, now
	}
	c.last = now
	if !c.on {
		return
	}
	switch {
	case was && now.Sub(from) <= gateLost:
		c.sum += now.Sub(from)
	case !thawedFrom.IsZero() && thawedFrom.After(from) && thawedFrom.Before(now):
		c.sum += now.Sub(thawedFrom)
		if !was {
			c.since = thawedFrom
		}
	}
}

// Sum is the thawed time on the wrong side of the limit so far, Since when it began; both zero on the right side.
func (c *levelClock) Sum() time.Duration { return c.sum }

// Since is described at Sum.
func (c *levelClock) Since() time.Time { return c.since }

// On says that the newest usable reading is on the wrong side, or not yet 2 points back.
func (c *levelClock) On() bool { return c.on }

// Reset starts the count anew, as after a change of regime: days before the change do not count.
func (c *levelClock) Reset() { *c = levelClock{last: c.last} }

// DryClock sums the thawed time a pot has been below a limit; it starts anew 2 points above it. The zero value is ready.
type DryClock struct{ levelClock }

// Take feeds a reading in ‰ of drained-full with the limit of the present regime and phase. usable and thawedFrom are
// FrozenGate's: time that could not be judged is not counted, but for a level believed later, which counts from thawedFrom.
func (c *DryClock) Take(now time.Time, wet int64, usable bool, limit int64, thawedFrom time.Time) {
	c.take(now, wet < limit, wet >= limit+clockBack, usable, thawedFrom)
}

// WetClock sums the thawed time a pot has been above a limit; it starts anew 2 points below it. The zero value is ready.
type WetClock struct{ levelClock }

// Take feeds a reading as DryClock's does.
func (c *WetClock) Take(now time.Time, wet int64, usable bool, limit int64, thawedFrom time.Time) {
	c.take(now, wet > limit, wet <= limit-clockBack, usable, thawedFrom)
}
