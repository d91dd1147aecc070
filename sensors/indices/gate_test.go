package indices

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The stories below are invented; their course follows a small pot model (3 L, latent heat) checked against one extension
// figure (three days to thaw at +4 °C) and one logged plateau. The gate's temperatures come from growers' reports and a
// permittivity freezing-curve study (Guelph; Soil Tillage Res. 2021, 105003); the rule itself is common practice, no source.

type knot struct {
	h         float64 // hours from the start
	temp, wet float64 // °C, % of drained-full
}

// track draws straight lines between knots.
func track(ks []knot, h float64) (temp, wet float64) {
	for i := 1; i < len(ks); i++ {
		if h <= ks[i].h {
			f := (h - ks[i-1].h) / (ks[i].h - ks[i-1].h)
			return ks[i-1].temp + f*(ks[i].temp-ks[i-1].temp), ks[i-1].wet + f*(ks[i].wet-ks[i-1].wet)
		}
	}
	return ks[len(ks)-1].temp, ks[len(ks)-1].wet
}

var gateStart = time.Date(2026, 1, 12, 0, 0, 0, 0, time.UTC)

// day gives hours from the start to an hour of a day in January 2026.
func day(d int, h float64) float64 { return float64(d-12)*24 + h }

// freezeCourse is a fortnight: thawed until the evening of the 13th, frozen hard, ice gone in the night to the 25th.
func freezeCourse(thaw ...knot) []knot {
	ks := []knot{{day(12, 0), 1.2, 50}, {day(12, 14), 4.8, 50}, {day(13, 6), 1.5, 50}, {day(13, 14), 2.7, 50}, {day(13, 20), 0.4, 50},
		{day(13, 21), 0, 49.5}, {day(14, 0), 0, 48}, {day(15, 0), 0, 24}, {day(15, 10), 0, 14}, {day(16, 0), -6.7, 12}}
	for d, t := range map[int][2]float64{16: {-10.8, -4.2}, 17: {-9.8, -3.2}, 18: {-7.9, -2.2}, 19: {-8.8, -2.2}, 20: {-6.9, -1.2}, 21: {-7.8, -1.2}, 22: {-5.9, -0.2}} {
		ks = append(ks, knot{day(d, 7), t[0], 12}, knot{day(d, 15), t[1], 12})
	}
	sortKnots(ks)
	ks = append(ks, knot{day(23, 6), -3.3, 12}, knot{day(23, 14), 0, 13})
	return append(ks, thaw...)
}

func sortKnots(ks []knot) {
	for i := range ks {
		for j := i; j > 0 && ks[j].h < ks[j-1].h; j-- {
			ks[j], ks[j-1] = ks[j-1], ks[j]
		}
	}
}

var warmDays = []knot{{day(25, 14), 7.6, 50}, {day(26, 6), 4.2, 50}, {day(26, 14), 7.8, 50}, {day(27, 6), 3.3, 50}, {day(27, 14), 6.8, 50},
	{day(28, 6), 3.5, 50}, {day(28, 14), 7, 50}, {day(29, 6), 3.5, 50}, {day(29, 23), 5, 50}}

func recovers() []knot {
	return freezeCourse(append([]knot{{day(24, 0), 0, 19}, {day(24, 23), 0, 45}, {day(25, 2), 0.2, 46}, {day(25, 5), 2, 50}}, warmDays...)...)
}

// scaled maps a course's moisture: another level before, in and after the freeze.
func scaled(ks []knot, f func(h, wet float64) float64) []knot {
	out := make([]knot, len(ks))
	for i, k := range ks {
		out[i] = knot{k.h, k.temp, f(k.h, k.wet)}
	}
	return out
}

// reallyDry is the twin whose level before was 24, frozen 6, and 17 afterwards, never back to 80 % of 24.
func reallyDry() []knot {
	return scaled(recovers(), func(h, w float64) float64 {
		switch {
		case h <= day(16, 0):
			return 6 + (w-12)*18/38
		case h < day(23, 10):
			return 6
		case h < day(29, 0):
			return 6 + (w-12)*11/38
		}
		return 16
	})
}

func harmed() []knot {
	return scaled(recovers(), func(h, w float64) float64 {
		if h <= day(16, 0) {
			return w
		}
		return 12
	})
}

// walk feeds a course at a step in minutes and calls see after each round.
func walk(ks []knot, step int, see func(h float64, g *FrozenGate)) *FrozenGate {
	g := &FrozenGate{}
	for m := 0; float64(m)/60 <= ks[len(ks)-1].h; m += step {
		h := float64(m) / 60
		t, w := track(ks, h)
		g.Take(gateStart.Add(time.Duration(m)*time.Minute), int64(math.Round(t*1000)), true, int64(math.Round(w*10)), true)
		if see != nil {
			see(h, g)
		}
	}
	return g
}

var gateSteps = []int{1, 5, 10, 15, 30, 60}

func TestAFrozenPotIsNotADryPot(t *testing.T) {
	for _, step := range gateSteps {
		g := walk(recovers(), step, func(h float64, g *FrozenGate) {
			if w, ok := g.Usable(); ok && w < 400 {
				t.Fatalf("step %d min, hour %.2f: %d ‰ given for judging", step, h, w)
			}
			if h > day(14, 12) && h < day(24, 12) {
				if !g.Frozen() {
					t.Fatalf("step %d min, hour %.2f: not frozen", step, h)
				}
				if w, at, ok := g.LastThawed(); !ok || w < 495 || at.Day() != 13 {
					t.Fatalf("step %d min: last thawed %d at %v", step, w, at)
				}
			}
			if h > day(25, 6) && g.Frozen() {
				t.Fatalf("step %d min, hour %.2f: still frozen", step, h)
			}
			if _, ok := g.CheckProbe(); ok {
				t.Fatalf("step %d min, hour %.2f: probe doubted", step, h)
			}
			if h > day(24, 0) && h < day(25, 12) && !g.Thawing() {
				t.Fatalf("step %d min, hour %.2f: the thaw's rise is not told as thaw", step, h)
			}
		})
		if w, ok := g.Usable(); !ok || w != 500 || g.Cycles() != 1 {
			t.Errorf("step %d min: at the end %d %v, %d cycles", step, w, ok, g.Cycles())
		}
		if from := g.ThawedFrom(); from.Day() != 25 {
			t.Errorf("step %d min: thawed from %v", step, from)
		}
	}
}

func TestAPotThatThawsDryIsBelievedAfterAFlatDay(t *testing.T) {
	for _, step := range gateSteps {
		opened := 0.0
		g := walk(reallyDry(), step, func(h float64, g *FrozenGate) {
			if w, ok := g.Usable(); ok && h > day(14, 0) {
				if opened == 0 {
					opened = h
				}
				if w < 150 {
					t.Fatalf("step %d min, hour %.2f: %d ‰ given for judging", step, h, w)
				}
			}
			if _, ok := g.CheckProbe(); ok {
				t.Fatalf("step %d min, hour %.2f: probe doubted", step, h)
			}
		})
		if opened < day(26, 0) || opened > day(26, 12) {
			t.Errorf("step %d min: opened at hour %.1f of 26 January", step, opened-day(26, 0))
		}
		if from := g.ThawedFrom(); from.Day() != 25 {
			t.Errorf("step %d min: thawed days count from %v", step, from)
		}
		if g.Cycles() != 1 {
			t.Errorf("step %d min: %d cycles", step, g.Cycles())
		}
	}
}

func TestAProbeThatNeverRisesIsDoubtedNotBelieved(t *testing.T) {
	for _, step := range gateSteps {
		g := walk(harmed(), step, func(h float64, g *FrozenGate) {
			if w, ok := g.Usable(); ok && h > day(14, 0) {
				t.Fatalf("step %d min, hour %.2f: %d ‰ given for judging", step, h, w)
			}
		})
		at, ok := g.CheckProbe()
		// T passed +2 °C on the 25th about five, so 72 h later is the 28th about five.
		if !ok || at.Day() != 28 || at.Hour() < 4 || at.Hour() > 7 {
			t.Errorf("step %d min: doubted %v at %v", step, ok, at)
		}
		if g.Frozen() {
			t.Errorf("step %d min: said to be frozen at +5 °C for days", step)
		}
	}
}

// The thermometer stands at the pot wall: above zero 30 h before the core has thawed.
func TestIceInTheCoreUnderAWarmWall(t *testing.T) {
	ks := freezeCourse(append([]knot{{day(23, 18), 1.4, 13}, {day(24, 6), 2.2, 16}, {day(24, 23), 3, 38}, {day(25, 5), 4, 50}}, warmDays...)...)
	for _, step := range gateSteps {
		walk(ks, step, func(h float64, g *FrozenGate) {
			if w, ok := g.Usable(); ok && w < 400 {
				t.Fatalf("step %d min, hour %.2f: %d ‰ given for judging", step, h, w)
			}
		})
	}
}

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
