package indices

import (
	"testing"
	"time"

	"lathwatch/sensors/checks"
)

func TestSlugTemperaturesFollowTheSources(t *testing.T) {
	c := func(m Milli) float64 { return float64(m) / 1000 }
	checks.Is(t, "sl-osu", map[string]any{"active_C": []float64{c(slugFrom), c(slugTo)}, "best_C": c(slugBest), "low_C": c(slugLow), "high_C": c(slugDead)})
	first, best := Milli(0), Milli(0)
	for m := Milli(0); m <= 30000; m += 1000 {
		if first == 0 && SlugFactor(m) > 0 {
			first = m
		}
		if best == 0 && SlugFactor(m) == 1 {
			best = m
		}
	}
	checks.Is(t, "sl-folia", map[string]float64{"feeds_at_C": c(first), "damage_7d_pct_at_1C": 100 * SlugFactor(1000), "damage_rises_to_C": c(best)})
	if SlugFactor(-500) != 0 || SlugFactor(30000) != 0 || SlugFactor(slugBest) < 0.95 {
		t.Error("slugs at the edges")
	}
	last := 0.0
	for m := Milli(0); m <= slugTop; m += 100 {
		if f := SlugFactor(m); f < last {
			t.Fatalf("the factor falls at %d m°C", m)
		} else {
			last = f
		}
	}
}

// slugNight feeds one night from noon to noon; air gives each hour's rounds.
func slugNight(s *SlugNights, night int, step time.Duration, air func(h float64) NightAir) (bad bool, hours time.Duration) {
	noon := gateStart.Add(time.Duration(night)*24*time.Hour + 12*time.Hour)
	for at := noon; at.Before(noon.Add(24 * time.Hour)); at = at.Add(step) {
		a := air(at.Sub(noon).Hours() + 12)
		a.Hour, a.Night = at.Hour(), night
		s.Take(at, a)
		if s.Hours() > hours {
			hours = s.Hours()
		}
		bad = bad || s.Bad()
	}
	return bad, hours
}

func TestWetStillMildNightsAreBad(t *testing.T) {
	wet := func(float64) NightAir { return NightAir{Air: 9000, RH: 950, AirOK: true, RHOK: true} }
	for _, c := range []struct {
		name string
		air  func(h float64) NightAir
		bad  bool
	}{
		{"wet and mild", wet, true},
		{"dry air", func(float64) NightAir { return NightAir{Air: 9000, RH: 700, AirOK: true, RHOK: true} }, false},
		{"dry air on a wet surface", func(float64) NightAir { return NightAir{Air: 9000, RH: 700, AirOK: true, RHOK: true, Wet: true} }, true},
		{"windy", func(float64) NightAir {
			return NightAir{Air: 9000, RH: 950, AirOK: true, RHOK: true, Wind: 4000, WindOK: true}
		}, false},
		{"cold", func(float64) NightAir { return NightAir{Air: 2000, RH: 950, AirOK: true, RHOK: true} }, false},
		{"four wet hours", func(h float64) NightAir {
			return NightAir{Air: 9000, RH: 700 + 250*b2i(h < 24), AirOK: true, RHOK: true}
		}, false},
		{"wet by day only", func(h float64) NightAir {
			return NightAir{Air: 9000, RH: 700 + 250*b2i(h < 20 || h > 30), AirOK: true, RHOK: true}
		}, false},
		{"nothing known of wet", func(float64) NightAir { return NightAir{Air: 9000, AirOK: true} }, false},
	} {
		for _, step := range []time.Duration{5 * time.Minute, 15 * time.Minute, time.Hour} {
			var s SlugNights
			if bad, hours := slugNight(&s, 1, step, c.air); bad != c.bad {
				t.Errorf("%s, every %v: bad %v after %v", c.name, step, bad, hours)
			}
		}
	}
}

func b2i(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

func TestSlugsNeedFourNightsAfterAHardFreeze(t *testing.T) {
	var s SlugNights
	slugNight(&s, 1, 15*time.Minute, func(float64) NightAir { return NightAir{Air: -5000, RH: 950, AirOK: true, RHOK: true} })
	for night := 2; night <= 7; night++ {
		bad, _ := slugNight(&s, night, 15*time.Minute, func(float64) NightAir { return NightAir{Air: 9000, RH: 950, AirOK: true, RHOK: true} })
		if want := night > 5; bad != want {
			t.Errorf("night %d after the freeze: bad %v", night-1, bad)
		}
	}
}

func TestGreyMouldNeedsWarmWetHours(t *testing.T) {
	for _, c := range []struct {
		name  string
		temp  Milli
		hours int
		want  bool
	}{ // Plant Disease 80 (1996) 160
		{"5 °C for a day", 5000, 24, false}, {"10 °C for a day", 10000, 24, false}, {"15 °C for five hours", 15000, 5, false},
		{"15 °C for eight hours", 15000, 8, true}, {"21 °C for three hours", 21000, 3, false}, {"21 °C for four and a half", 21000, 5, true},
	} {
		for _, step := range []int{5, 15, 60} {
			var m MouldRun
			for i := 0; i <= c.hours*60; i += step {
				m.Take(gateStart.Add(time.Duration(i)*time.Minute), c.temp, 990, c.temp, c.temp-100, true)
			}
			if _, _, got := m.Run(); got != c.want {
				t.Errorf("%s every %d min: %v", c.name, step, got)
			}
		}
	}
	var m MouldRun
	for i := range 100 { // two hours wet, five hours dry, over and over
		wet := i%28 < 8
		m.Take(gateStart.Add(time.Duration(i)*15*time.Minute), 18000, 600+390*b2i(wet), 18000, 9000, true)
		if _, _, enough := m.Run(); enough {
			t.Fatal("short wets with dry afternoons add up")
		}
	}
}

func BenchmarkSlugNights(b *testing.B) {
	var s SlugNights
	at, i := gateStart, 0
	for b.Loop() {
		s.Take(at, NightAir{Air: 9000, RH: 950, AirOK: true, RHOK: true, Hour: at.Hour(), Night: i / 288})
		at, i = at.Add(5*time.Minute), i+1
	}
}

func BenchmarkMouldRun(b *testing.B) {
	var m MouldRun
	at := gateStart
	for b.Loop() {
		m.Take(at, 15000, 960, 15000, 14800, true)
		at = at.Add(5 * time.Minute)
	}
}
