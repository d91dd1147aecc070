package indices

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// icePot is a lumped pot for drawing random weather: ice grows and melts with the air, the thermometer is pinned while both are there.
type icePot struct{ ice, temp float64 }

func (p *icePot) step(air, hours float64) {
	if p.ice > 0 || p.temp <= 0 && air < 0 {
		p.ice = min(1, max(0, p.ice-air/160*hours))
	}
	switch {
	case p.ice > 0 && p.ice < 1:
		p.temp = 0
	default:
		p.temp += (air - p.temp) * min(1, hours/4)
		if p.ice == 1 {
			p.temp = min(p.temp, 0)
		} else if air < 0 {
			p.temp = max(p.temp, 0)
		}
	}
}

// For any weather, feeding every second or third round gives the same state at the end and nearly the same time open for judging.
func TestTheSamplingRateDoesNotMoveTheGate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		airs := rapid.SliceOfN(rapid.Float64Range(-9, 8), 6, 14).Draw(t, "airs")
		level := rapid.Float64Range(200, 900).Draw(t, "level")
		var gates [3]FrozenGate
		var open [3]time.Duration
		var pot icePot
		pot.temp = 3
		rounds := len(airs) * 24 * 12
		for i := range rounds {
			day := float64(i) / 288
			j := int(day)
			a := airs[j] + (airs[min(j+1, len(airs)-1)]-airs[j])*(day-float64(j)) + 2*math.Sin(2*math.Pi*day)
			pot.step(a, 1.0/12)
			wet := int64(level * (1 - 0.76*pot.ice))
			for k, every := range []int{1, 2, 3} {
				if i%every == 0 {
					gates[k].Take(gateStart.Add(time.Duration(i)*5*time.Minute), Milli(pot.temp*1000), true, wet, true)
				}
				if w, ok := gates[k].Usable(); ok {
					open[k] += 5 * time.Minute
					if float64(w) < 0.5*level {
						t.Fatalf("every %d: %d ‰ given of %.0f", every, w, level)
					}
				}
			}
		}
		whole := time.Duration(rounds) * 5 * time.Minute
		for k := 1; k < 3; k++ {
			if d := (open[k] - open[0]).Abs(); d > whole/50+2*time.Hour {
				t.Errorf("open %v at every round, %v at every %d", open[0], open[k], k+1)
			}
			if d := gates[k].Cycles() - gates[0].Cycles(); d < -1 || d > 1 {
				t.Errorf("%d cycles at every round, %d at every %d", gates[0].Cycles(), gates[k].Cycles(), k+1)
			}
		}
	})
}
