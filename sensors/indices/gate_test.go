package indices

import (
	"math"
	"testing"
	"time"
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
