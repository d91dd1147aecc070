package model

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

func testPot(litres units.Volume, water, celsius float64) pot {
	p := newPot(&garden.Pot{Litres: litres}, celsius, water/0.34)
	return p
}

// hoursUntil lets air stand at a temperature until the pot's ice reaches a share, from above or from below.
func hoursUntil(p *pot, air, ice float64) float64 {
	growing := p.frozen() < ice
	for h := 0.0; h < 600; h += 1.0 / 12 {
		if f := p.frozen(); growing && f >= ice || !growing && f <= ice {
			return h
		}
		p.conduct(air, 300, 1)
	}
	return math.Inf(1)
}

// Plank's equation for the freezing time of an infinite cylinder that is at its freezing point to begin with:
// t = L/(Tf-Ta) (d/4h + d²/16k) (Plank 1913; ASHRAE Handbook - Refrigeration, chapter on freezing times, shape factors 1/4 and
// 1/16; from memory). A pot so tall that its ends do not count must freeze in that time; the ice's own cooling is left out of
// the equation, so a few per cent are allowed.
func TestATallPotFreezesInPlanksTime(t *testing.T) {
	for _, c := range []struct{ water, air float64 }{{0.12, -3}, {0.18, -3}, {0.30, -3}, {0.42, -3}, {0.30, -1}} {
		p := testPot(3000, c.water, 0)
		for i := range p.shells { // drawn out to 20 m
			p.shells[i].m3 *= 20 / p.height
		}
		p.height = 20
		d, k := 2*p.radius, 0.12+0.7*c.water
		want := latent * c.water * 1e6 / -c.air * (d/(4*film) + d*d/(16*k)) / 3600
		if got := hoursUntil(&p, c.air, 0.999); math.Abs(got/want-1) > 0.08 {
			t.Errorf("%v: %.1f h, Plank has %.1f h", c, got, want)
		}
	}
}

// Hours until frozen through at -3 and -8 °C, from +4, and until thawed at +4 °C, from -4: an independent calculation with six
// rings, the same properties and films, unpublished, own work of the kind growers use for fixtures (checked by its author
// against one extension figure and one logged plateau). Its ends are not described, so a tenth is allowed.
func TestPotsFreezeAndThawAsInAnotherCalculation(t *testing.T) {
	for _, c := range []struct {
		litres          units.Volume
		water           float64
		at3, at8, thaw4 float64
	}{{1500, .18, 33, 13, 25}, {1500, .42, 60, 23, 46}, {3000, .12, 35, 14, 27}, {3000, .18, 47, 19, 36}, {3000, .30, 66, 26, 51}, {3000, .42, 83, 32, 63}, {7000, .18, 74, 29, 56}, {7000, .42, 126, 49, 96}} {
		freeze3, freeze8, thaw := testPot(c.litres, c.water, 4), testPot(c.litres, c.water, 4), testPot(c.litres, c.water, -4)
		for _, one := range []struct {
			got, want float64
			what      string
		}{{hoursUntil(&freeze3, -3, 1), c.at3, "frozen through at -3 °C"}, {hoursUntil(&freeze8, -8, 1), c.at8, "frozen through at -8 °C"}, {hoursUntil(&thaw, 4, 0), c.thaw4, "thawed at +4 °C"}} {
			if math.Abs(one.got/one.want-1) > 0.10 {
				t.Errorf("%v with %.0f %% water: %s after %.1f h, the other has %v h", c.litres, 100*c.water, one.what, one.got, one.want)
			}
		}
	}
}

// The same calculation's time constant of an unfrozen 3 L pot's core is 3 to 4 h: 63 % of a step in that time, a tenth allowed.
func TestTheCoreLagsTheAirByHours(t *testing.T) {
	p := testPot(3000, 0.25, 10)
	hours := 0.0
	for ; p.core() > 10-0.632*5; hours += 1.0 / 12 {
		p.conduct(5, 300, 1)
	}
	if hours < 2.7 || hours > 4.4 {
		t.Errorf("63 %% after %.1f h", hours)
	}
}

func TestACoreStandsAtNoughtWhileItFreezes(t *testing.T) {
	p := testPot(3000, 0.18, 4)
	plateau := 0
	for range 60 * 12 {
		p.conduct(-3, 300, 1)
		if p.core() > -0.05 && p.core() < 0.05 {
			plateau++
		}
	}
	if hours := float64(plateau) / 12; hours < 30 || p.core() > -1 {
		t.Errorf("at 0 °C for %.1f h, then %.1f °C", hours, p.core())
	}
}

// A probe in a frozen pot reads a fifth to a quarter of what it did (field figure of growers, in Bittelli, Flury and Roth 2004 the
// permittivity of ice is about 3 against 88 of water), and all of it again when thawed.
func TestAFrozenProbeReadsDryAndComesBack(t *testing.T) {
	p := testPot(3000, 0.17, 4)
	before := p.apparent()
	hoursUntil(&p, -5, 1)
	if r := p.apparent() / before; r < 0.2 || r > 0.25 {
		t.Errorf("frozen it reads %.2f of before", r)
	}
	hoursUntil(&p, 4, 0)
	if r := p.apparent() / before; math.Abs(r-1) > 1e-9 {
		t.Errorf("thawed it reads %.4f of before", r)
	}
}

func TestWaterIsRefusedByAFrozenPot(t *testing.T) {
	p := testPot(3000, 0.17, -2)
	was := p.water()
	if off := p.add(0.15, 8); off != 0.15 || p.water() != was {
		t.Errorf("%.3f L ran off, %.3f L in it, was %.3f", off, p.water(), was)
	}
}

// Growers' figures: 300 mL of slack last 53 to 13 days of rest in 3 L of plastic at 0.2 to 0.8 mm a day, 15 to 4 in clay.
func TestSlackLastsLongInPlasticAndShortInClay(t *testing.T) {
	for _, clay := range []bool{false, true} {
		p := testPot(3000, 0.17, 5)
		p.clay = clay
		start, days := p.water(), 0.0
		for ; start-p.water() < 0.3 && days < 200; days += 1.0 / 288 {
			p.dry(0.12, 2, 0, 300) // a winter day: 5 °C, 86 %
		}
		if low, high := 13.0, 90.0; !clay && (days < low || days > high) {
			t.Errorf("plastic: %.0f days", days)
		}
		if low, high := 4.0, 26.0; clay && (days < low || days > high) {
			t.Errorf("clay: %.0f days", days)
		}
	}
}

// Nothing is made and nothing is lost, whatever happens to a pot.
func TestHeatAndWaterBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := testPot(units.Volume(rapid.Int64Range(800, 9000).Draw(t, "mL")), rapid.Float64Range(0.03, 0.4).Draw(t, "water"), rapid.Float64Range(-8, 25).Draw(t, "start"))
		p.clay = rapid.Bool().Draw(t, "clay")
		water, heat := p.water(), p.heat()
		in, out := 0.0, 0.0
		for range rapid.IntRange(1, 60).Draw(t, "hours") {
			air := rapid.Float64Range(-15, 30).Draw(t, "air")
			pour := rapid.SampledFrom([]float64{0, 0, 0, 0.02, 0.4}).Draw(t, "pour")
			in += pour
			out += p.add(pour, 8)
			for range 12 {
				p.conduct(air, 300, 1)
				p.dry(rapid.SampledFrom([]float64{0, 0.3, 2}).Draw(t, "deficit"), 2, 0.5, 300)
			}
			if f := p.frozen(); f < 0 || f > 1 || p.share() < 0 || math.IsNaN(p.core()) {
				t.Fatalf("frozen %v, share %v, core %v", f, p.share(), p.core())
			}
		}
		l := p.ledger
		if d := p.water() - water - in + out + l.Drained + l.Evaporated; math.Abs(d) > 1e-9 {
			t.Fatalf("%g L from nowhere", d)
		}
		if d := p.heat() - heat - l.Conducted - l.Carried; math.Abs(d) > 1e-9 {
			t.Fatalf("%g MJ from nowhere", d)
		}
	})
}
