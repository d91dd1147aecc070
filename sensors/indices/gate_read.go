package indices

import "time"

// Frozen says whether the pot holds ice as far as can be told.
func (g *FrozenGate) Frozen() bool { return g.state == gateFrozen && !g.unsure }

// Known is false before the first judgement and after a gap until the pot is judged anew.
func (g *FrozenGate) Known() bool { return g.state != gateUnknown && !g.unsure }

// Since says when the present state (frozen, liquid, unknown) began.
func (g *FrozenGate) Since() time.Time { return g.since }

// LastThawed gives the last reading taken above +0.3 °C in a pot without ice, in ‰ of drained-full, and when.
func (g *FrozenGate) LastThawed() (wet int64, at time.Time, ok bool) {
	return g.ref.wet, g.ref.at, g.ref.ok()
}

// Usable gives the newest reading in ‰ of drained-full when it may be judged: the pot is thawed, its temperature over +0.3 °C,
// and after a gap a day of data is in. It is not asked whether the reading is fresh; that is the caller's.
func (g *FrozenGate) Usable() (wet int64, ok bool) {
	if g.state != gateLiquid || g.held || !g.wet.ok() || g.wet.at.Before(g.believe) || !g.ref.ok() || !g.ref.at.Equal(g.wet.at) {
		return 0, false
	}
	return g.wet.wet, true
}

// Held says that the newest reading is not judged only because the pot is at or below +0.3 °C or has no thermometer reading.
func (g *FrozenGate) Held() bool { return g.held && g.state == gateLiquid }

// Thawing says that a rise of the reading now is thaw and not water arriving: while ice is about or the state unknown, and for a day
// after the release.
func (g *FrozenGate) Thawing() bool {
	if g.state != gateLiquid {
		return true
	}
	return !g.released.IsZero() && g.seen.Sub(g.released) < gateData
}

// Doubted says that the reading is not believed though the pot is not known to hold ice: it never rose after a thaw, or lost half
// in a day.
func (g *FrozenGate) Doubted() bool { return g.state == gateDoubt }

// CheckProbe says since when the probe wants looking at: no rise at all in 72 h with the pot over +2 °C.
func (g *FrozenGate) CheckProbe() (since time.Time, ok bool) { return g.check, !g.check.IsZero() }

// Cycles counts freeze-thaw cycles: liquid, over half frozen (half the reading gone, or ≤ -1 °C), liquid again.
func (g *FrozenGate) Cycles() int { return len(g.cycles) }

// CycleTimes gives the ends of the cycles in order: the instants the pot counts as thawed from. The caller must not change it.
func (g *FrozenGate) CycleTimes() []time.Time { return g.cycles }

// ReleasedAt says when the gate last opened, ThawedFrom the earlier instant the recovered level began: thawed days count from
// there. Both are zero for a pot that was never frozen, but for ThawedFrom after a first reading or a gap.
func (g *FrozenGate) ReleasedAt() time.Time { return g.released }

// ThawedFrom is described at ReleasedAt.
func (g *FrozenGate) ThawedFrom() time.Time { return g.thawed }

// flatRun keeps hourly means of a reading and finds the longest stretch up to now in which they stay within gateFlat. Means
// of whole hours make it indifferent to the sampling rate.
type flatRun struct {
	hour   int64 // the open hour, counted from 1970
	sum, n int64
	first  time.Time
	broken bool
	bins   []flatBin
	last   int64
	lastOK bool
}

type flatBin struct {
	mean  int64
	first time.Time
}

const flatKeep = 50

func (f *flatRun) take(now time.Time, wet int64, warm bool) {
	h := now.Unix() / 3600
	if h != f.hour || f.n == 0 {
		f.close()
		f.hour, f.first = h, now
	}
	f.sum += wet
	f.n++
	if !warm {
		f.broken = true
	}
}

func (f *flatRun) close() {
	if f.n == 0 {
		return
	}
	f.last, f.lastOK = f.sum/f.n, true
	if f.broken {
		f.bins = f.bins[:0]
	} else {
		if len(f.bins) == flatKeep {
			f.bins = append(f.bins[:0], f.bins[1:]...)
		}
		f.bins = append(f.bins, flatBin{f.last, f.first})
	}
	f.sum, f.n, f.broken = 0, 0, false
}

// lastHour is the mean of the last whole hour seen.
func (f *flatRun) lastHour() (int64, bool) { return f.last, f.lastOK }

// since gives the start and the mean level of the flat stretch that ends now, when it is at least d long.
func (f *flatRun) since(now time.Time, d time.Duration) (from time.Time, level int64, ok bool) {
	if len(f.bins) == 0 || f.broken {
		return time.Time{}, 0, false
	}
	lo, hi, sum, n := f.bins[len(f.bins)-1].mean, f.bins[len(f.bins)-1].mean, int64(0), int64(0)
	for i := len(f.bins) - 1; i >= 0; i-- {
		b := f.bins[i]
		lo, hi = min(lo, b.mean), max(hi, b.mean)
		if hi-lo > gateFlat {
			break
		}
		from, sum, n = b.first, sum+b.mean, n+1
	}
	return from, sum / n, now.Sub(from) >= d
}
