package indices

import (
	"math"
	"testing"
	"time"

	"lathwatch/sensors/checks"
)

func celsius(f float64) float64 { return (f - 32) / 1.8 }

func TestPublishedRootLimits(t *testing.T) {
	checks.Is(t, "rt-holly", map[string]float64{"immature_C": celsius(23), "mature_C": celsius(9)})
	checks.Is(t, "rt-yew", map[string]float64{"young_C": celsius(25), "old_C": celsius(10)})
	c := func(m Milli) float64 { return float64(m) / 1000 }
	checks.Is(t, "rt-range", map[string]float64{"tender_roots_kill_C": c(RootTenderKill), "middling_C": c(RootMiddlingKill), "hardy_C": c(RootHardyKill)})
	// The default alarms must come before any published death, young yew and holly roots included.
	for _, c := range []struct {
		dry, never, hard bool
		want             Milli
	}{{true, false, true, -3000}, {false, false, true, -5000}, {false, true, true, 500}, {true, false, false, 0}} {
		if got := RootLimit(c.dry, c.never, c.hard); got != c.want {
			t.Errorf("%+v: %d", c, got)
		}
	}
	if float64(RootLimit(true, false, true))/1000 < celsius(25) {
		t.Error("the dry-rest alarm comes after young yew roots die")
	}
	for m, want := range map[Milli]RootClass{-4900: RootsAnyLive, -5000: RootsTenderDie, -8000: RootsMiddlingDie, -13000: RootsHardyDie} {
		if got := RootsAt(m); got != want {
			t.Errorf("%d m°C: class %d", m, got)
		}
	}
}

func TestLatentHeatHoldsAWetPot(t *testing.T) {
	var in struct {
		Litres float64 `json:"pot_L"`
		Theta  float64
	}
	checks.Input(t, "rt-latent", &in)
	kJ, k := LatentKJ(in.Litres, in.Theta)
	checks.Is(t, "rt-latent", map[string]float64{"latent_kJ": kJ, "equivalent_liquid_K": k})
	near(t, "hours at 5 W", PlateauHours(3, 0.3, 5), 16.7, 0.05)
}

func TestCyclesAreCountedInAWindow(t *testing.T) {
	var ends []time.Time
	for d := range 10 {
		ends = append(ends, gateStart.Add(time.Duration(d*5)*24*time.Hour))
	}
	now := gateStart.Add(45 * 24 * time.Hour)
	if n := FreezeThaws(ends, now, 30*24*time.Hour); n != 6 {
		t.Errorf("%d cycles in thirty days, want 6", n)
	}
	if n := FreezeThaws(ends, gateStart, 30*24*time.Hour); n != 1 {
		t.Errorf("%d cycles on the first day", n)
	}
}

// shellPot is a pot as rings of equal width with the heat each holds (enthalpy method), an air film outside and a weaker one
// below: numbers of the small pot model behind the growers' table of freezing times.
type shellPot struct {
	r, height, theta float64
	heat             []float64 // J/m³ above liquid at 0 °C
}

const shells = 6

func newShellPot(litres, theta, temp float64) *shellPot {
	p := &shellPot{theta: theta, heat: make([]float64, shells)}
	p.r = 0.085 * math.Cbrt(litres/3)
	p.height = litres / 1000 / (math.Pi * p.r * p.r)
	for i := range p.heat {
		p.heat[i] = temp * p.liquidC()
	}
	return p
}

func (p *shellPot) liquidC() float64 { return 0.34e6 + 4.18e6*p.theta }
func (p *shellPot) iceC() float64    { return 0.34e6 + 2.0e6*p.theta }

func (p *shellPot) temp(i int) float64 {
	latent := 334e6 * p.theta
	switch h := p.heat[i]; {
	case h >= 0:
		return h / p.liquidC()
	case h < -latent:
		return (h + latent) / p.iceC()
	}
	return 0
}

func (p *shellPot) frozen() bool { return p.heat[0] <= -334e6*p.theta }

func (p *shellPot) step(air, dt float64) {
	k, w := 0.12+0.7*p.theta, p.r/shells
	flux := make([]float64, shells+1) // inwards across the outer edge of ring i-1, W
	for i := 1; i < shells; i++ {
		flux[i] = k * 2 * math.Pi * float64(i) * w * p.height * (p.temp(i) - p.temp(i-1)) / w
	}
	out := 1 / (1/9.0 + w/2/k)
	flux[shells] = out * 2 * math.Pi * p.r * p.height * (air - p.temp(shells-1))
	for i := range shells {
		area := math.Pi * w * w * float64(2*i+1)
		bottom := 3 * area * (air - p.temp(i))
		p.heat[i] += (flux[i+1] - flux[i] + bottom) * dt / (area * p.height)
	}
}

// The growers' table: hours to freeze through from +4 °C (own model, checked there against one extension figure).
func TestTheShellPotFreezesInTheTabledTime(t *testing.T) {
	for _, c := range []struct{ litres, theta, air, hours float64 }{
		{3, 0.18, -3, 47}, {3, 0.42, -3, 83}, {3, 0.18, -8, 19}, {3, 0.42, -8, 32}, {1.5, 0.18, -3, 33}, {7, 0.42, -8, 49},
	} {
		p := newShellPot(c.litres, c.theta, 4)
		h := 0.0
		for ; !p.frozen() && h < 300; h += 10.0 / 3600 {
			p.step(c.air, 10)
		}
		if math.Abs(h/c.hours-1) > 0.3 {
			t.Errorf("%+v: frozen through after %.0f h", c, h)
		}
	}
}

func TestTheFrostPlateauGivesTheWaterThatFroze(t *testing.T) {
	for _, litres := range []float64{1.5, 3, 7} {
		for _, theta := range []float64{0.12, 0.18, 0.30, 0.42} {
			for _, air := range []float64{-3, -6} {
				p, f, found := newShellPot(litres, theta, 3), FrostPlateau{Litres: litres}, false
				for s := 0; s < 14*86400 && !found; s += 10 {
					a := air + 2*math.Sin(2*math.Pi*float64(s)/86400)
					p.step(a, 10)
					if s%600 == 0 {
						found = f.Take(gateStart.Add(time.Duration(s)*time.Second), Milli(p.temp(0)*1000), Milli(a*1000))
					}
				}
				got, _, ok := f.Water()
				err := got/(litres*theta) - 1
				t.Logf("%.1f L at %.2f, air %.0f °C: %.2f L froze, true %.2f (%+.0f %%)", litres, theta, air, got, litres*theta, 100*err)
				if !ok || math.Abs(err) > 0.25 {
					t.Errorf("%.1f L at %.2f, air %.0f °C: off by %+.0f %%", litres, theta, air, 100*err)
				}
			}
		}
	}
}

func BenchmarkFrostPlateau(b *testing.B) {
	var p FrostPlateau
	at := gateStart
	for b.Loop() {
		p.Take(at, 0, -3000)
		at = at.Add(5 * time.Minute)
	}
}
