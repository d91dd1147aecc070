package indices

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// A chip thermometer may be half a degree off: the plateau then reads +0.5.
func TestAThermometerHalfADegreeHighDoesNotOpenTheGate(t *testing.T) {
	walkOff := func(off float64) {
		g := &FrozenGate{}
		ks := recovers()
		for m := 0; float64(m)/60 <= ks[len(ks)-1].h; m += 5 {
			temp, w := track(ks, float64(m)/60)
			g.Take(gateStart.Add(time.Duration(m)*time.Minute), int64((temp+off)*1000), true, int64(w*10), true)
			if w, ok := g.Usable(); ok && w < 395 {
				t.Fatalf("off by %.1f, hour %.2f: %d ‰ given for judging", off, float64(m)/60, w)
			}
		}
		if g.Cycles() != 1 || g.Frozen() {
			t.Errorf("off by %.1f: %d cycles, frozen %v", off, g.Cycles(), g.Frozen())
		}
	}
	walkOff(+0.5)
	walkOff(-0.5)
}

// The pot's thermometer is stuck at a mild value while the pot freezes: the reading loses half in a day, which no pot does.
func TestAStuckThermometerDoesNotMakeAFrozenPotDry(t *testing.T) {
	for _, stuck := range []Milli{2000, 5000} {
		for _, step := range gateSteps {
			g := &FrozenGate{}
			var c DryClock
			ks := recovers()
			for m := 0; float64(m)/60 <= ks[len(ks)-1].h; m += step {
				temp, w := track(ks, float64(m)/60)
				pot := int64(math.Round(temp * 1000))
				if float64(m)/60 > day(13, 0) {
					pot = stuck
				}
				now := gateStart.Add(time.Duration(m) * time.Minute)
				g.Take(now, pot, true, int64(math.Round(w*10)), true)
				wet, ok := g.Usable()
				c.Take(now, wet, ok, 200, g.ThawedFrom())
				if c.Sum() > 12*time.Hour {
					t.Fatalf("stuck at %d, every %d min: %v of dry time by hour %.1f", stuck, step, c.Sum(), float64(m)/60)
				}
			}
			if w, ok := g.Usable(); !ok || w != 500 {
				t.Errorf("stuck at %d, every %d min: at the end %d %v", stuck, step, w, ok)
			}
		}
	}
}

func TestAGapLeavesTheFreezeStateOpen(t *testing.T) {
	g := &FrozenGate{}
	at := gateStart
	feed := func(hours float64, temp Milli, wet int64) {
		for end := at.Add(time.Duration(hours * float64(time.Hour))); at.Before(end); at = at.Add(5 * time.Minute) {
			g.Take(at, temp, true, wet, true)
		}
	}
	feed(48, 2000, 400)
	at = at.Add(71*time.Hour + 20*time.Minute)
	back := at
	feed(1, 1500, 395)
	if _, ok := g.Usable(); ok {
		t.Error("a verdict within the first hour after 71 h without readings")
	}
	feed(22, 1500, 395)
	if _, ok := g.Usable(); ok {
		t.Error("a verdict before a day of data is in")
	}
	feed(2, 1500, 395)
	if w, ok := g.Usable(); !ok || w != 395 {
		t.Errorf("after a day of data: %d %v", w, ok)
	}
	if !g.Known() || g.ThawedFrom().Sub(back) > time.Hour {
		t.Errorf("known %v, thawed from %v", g.Known(), g.ThawedFrom())
	}
	at = at.Add(40 * time.Minute) // a short one matters to nobody
	feed(0.2, 1500, 395)
	if _, ok := g.Usable(); !ok {
		t.Error("forty minutes without readings held the verdict")
	}
}

func TestAThawSeenFromTheFirstReadingIsNotWater(t *testing.T) {
	g := &FrozenGate{}
	ks := []knot{{0, 0, 12}, {6, 0, 14}, {24, 0.2, 38}, {30, 4, 38}, {60, 5, 38}}
	for m := 0; m <= 60*60; m += 15 {
		temp, w := track(ks, float64(m)/60)
		g.Take(gateStart.Add(time.Duration(m)*time.Minute), int64(temp*1000), true, int64(w*10), true)
		if !g.Thawing() && float64(m)/60 < 30 {
			t.Fatalf("minute %d: not told as thaw", m)
		}
		if w, ok := g.Usable(); ok && w < 370 {
			t.Fatalf("minute %d: %d ‰ given for judging", m, w)
		}
	}
	if w, ok := g.Usable(); !ok || w != 380 {
		t.Errorf("at the end %d %v", w, ok)
	}
}

func TestAPotWithOnlyAThermometerIsJudgedRoughly(t *testing.T) {
	for _, step := range gateSteps {
		g := &FrozenGate{}
		ks := recovers()
		for m := 0; float64(m)/60 <= ks[len(ks)-1].h; m += step {
			h := float64(m) / 60
			temp, _ := track(ks, h)
			g.Take(gateStart.Add(time.Duration(m)*time.Minute), int64(temp*1000), true, 0, false)
			if h > day(16, 0) && h < day(25, 12) && !g.Frozen() {
				t.Fatalf("step %d min, hour %.2f: not frozen", step, h)
			}
			if h > day(26, 20) && g.Frozen() {
				t.Fatalf("step %d min, hour %.2f: still frozen", step, h)
			}
		}
		if g.Cycles() != 1 {
			t.Errorf("step %d min: %d cycles", step, g.Cycles())
		}
	}
}

func TestOneBadReadingNeitherFreezesNorThaws(t *testing.T) {
	g := walk(recovers(), 5, func(h float64, g *FrozenGate) {})
	before := g.Cycles()
	at := g.seen.Add(5 * time.Minute)
	g.Take(at, 200, true, 500, true)
	g.Take(at.Add(5*time.Minute), 200, true, 0, true)
	g.Take(at.Add(10*time.Minute), 400, true, 500, true)
	if w, ok := g.Usable(); !ok || w != 500 || g.Cycles() != before {
		t.Errorf("one zero: %d %v, %d cycles", w, ok, g.Cycles())
	}
	walk(harmed(), 5, func(h float64, g *FrozenGate) {
		if math.Abs(h-day(26, 0)) < 0.01 {
			g.Take(g.seen.Add(time.Second), 5000, true, 1000, true)
		}
		if _, ok := g.Usable(); ok && h > day(14, 0) {
			t.Fatalf("hour %.2f: one full reading opened the gate", h)
		}
	})
}

// Whatever the weather, a reading that is below half of its last thawed level while the pot has ice is never given.
func TestNoFrozenReadingIsEverGiven(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		level := rapid.Int64Range(150, 1000).Draw(t, "level")
		g := &FrozenGate{}
		at, ice, step := gateStart, 0.0, time.Duration(rapid.SampledFrom(gateSteps).Draw(t, "step"))*time.Minute
		air, airs := 4.0, rapid.SliceOfN(rapid.Float64Range(-10, 8), 4, 10).Draw(t, "airs")
		for _, a := range airs {
			air = a
			for end := at.Add(30 * time.Hour); at.Before(end); at = at.Add(step) {
				ice = min(1, max(0, ice-air/4/40*step.Hours()*rateOf(air))) // 40 h through at 4 degrees
				temp := air
				if ice > 0 && ice < 1 {
					temp = max(min(air, 0), -0.3) // pinned, a little under when cold
				} else if ice == 0 && air < 0 {
					temp = 0
				}
				wet := int64(float64(level) * (1 - 0.78*ice))
				g.Take(at, int64(temp*1000), true, wet, true)
				if w, ok := g.Usable(); ok && w*2 < level && level > 0 && ice > 0.3 {
					t.Fatalf("%d ‰ given with %.2f ice, level %d", w, ice, level)
				}
			}
		}
	})
}

func rateOf(air float64) float64 {
	if air < 0 {
		return 1
	}
	return 0.9
}

func BenchmarkFrozenGate(b *testing.B) {
	g := &FrozenGate{}
	ks := recovers()
	type r struct{ t, w int64 }
	var rs []r
	for m := 0; float64(m)/60 <= ks[len(ks)-1].h; m += 5 {
		t, w := track(ks, float64(m)/60)
		rs = append(rs, r{int64(t * 1000), int64(w * 10)})
	}
	at := gateStart
	i := 0
	for b.Loop() {
		g.Take(at, rs[i].t, true, rs[i].w, true)
		at = at.Add(5 * time.Minute)
		if i++; i == len(rs) {
			i = 0
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N), "ns/reading")
}
