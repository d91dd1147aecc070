package indices

import (
	"testing"
	"time"
)

// 3 October: repotted about two in the afternoon, the probe left on the bench.
func TestAProbeOnTheBenchIsOut(t *testing.T) {
	type row struct{ h, wet, pot, air float64 }
	rows := []row{{12, 64, 10.9, 14.8}, {14, 64, 11.2, 15.6}, {14.16, 0, 13.9, 15.7}, {14.33, 0, 15.4, 15.7}, {16, 0, 15.9, 15.8}, {20, 0, 11, 11.1}, {30, 0, 6.1, 6}}
	at := func(h float64) (wet, pot, air float64) {
		for i := 1; i < len(rows); i++ {
			if a, b := rows[i-1], rows[i]; h <= b.h {
				f := (h - a.h) / (b.h - a.h)
				if wet = a.wet; h >= b.h-1e-9 || a.wet == 0 {
					wet = b.wet
				}
				return wet, a.pot + f*(b.pot-a.pot), a.air + f*(b.air-a.air)
			}
		}
		return 0, 6, 6
	}
	for _, step := range []int{1, 5, 10, 30, 60} {
		var p ProbeOut
		found := 0.0
		for m := 720; m <= 1800; m += step {
			h := float64(m) / 60
			wet, pot, air := at(h)
			p.Take(gateStart.Add(time.Duration(m)*time.Minute), LayerWet{int64(wet * 10), true}, int64(pot*1000), true, int64(air*1000), true, false)
			if _, ok := p.Out(); ok && found == 0 {
				found = h
			}
		}
		if found < 14.9 || found > 18 {
			t.Errorf("step %d min: out at %.2f", step, found)
		}
	}
}

func TestDryingAndADeadChannelAreNotAProbeOut(t *testing.T) {
	var p ProbeOut
	for m := 0; m < 9*1440; m += 10 { // 64 to 20 over nine days with the pot's lag kept
		p.Take(gateStart.Add(time.Duration(m)*time.Minute), LayerWet{640 - int64(m)*440/12960, true}, 12000, true, 12000, true, false)
	}
	if _, ok := p.Dropped(); ok {
		t.Error("nine days of drying is a drop")
	}
	for m := range 300 { // the moisture channel dies at zero; the thermometer still lags
		p.Take(gateStart.Add(216*time.Hour+time.Duration(m)*time.Minute), LayerWet{0, true}, 11000, true, 15500, true, false)
	}
	if _, ok := p.Out(); ok {
		t.Error("a dead moisture channel is called a probe in the air")
	}
	if _, ok := p.Dropped(); !ok {
		t.Error("a reading that fell to nothing at once may still be judged")
	}
}

func BenchmarkProbeOut(b *testing.B) {
	var p ProbeOut
	at := gateStart
	for b.Loop() {
		p.Take(at, LayerWet{400, true}, 8000, true, 9000, true, false)
		at = at.Add(5 * time.Minute)
	}
}
