package indices

import (
	"math"
	"slices"
	"testing"
	"time"
)

func TestTheFirstGuessFollowsMaterialSeasonAndSize(t *testing.T) {
	days := func(k PotKind, from, limit int64) float64 {
		d := NewDryDown(k)
		for h := range 9 {
			d.Take(gateStart.Add(time.Duration(h)*time.Hour), from, true, 0, false)
		}
		v, ok := d.Expected(limit)
		if _, _, own := d.Rate(); own || !ok {
			t.Errorf("%+v: own rate after nine hours %v, level %v", k, own, ok)
		}
		return v
	}
	for _, c := range []struct {
		k           PotKind
		from, limit int64
		lo, hi      float64
	}{ // growers' intervals between waterings, common practice
		{PotKind{}, 500, 200, 28, 49},
		{PotKind{Clay: true}, 500, 200, 7, 14},
		{PotKind{Growth: true}, 980, 550, 1, 5},
		{PotKind{Growth: true, Clay: true}, 980, 550, 0.8, 3},
	} {
		if v := days(c.k, c.from, c.limit); v < c.lo || v > c.hi {
			t.Errorf("%+v: %.1f days, growers say %.1f to %.1f", c.k, v, c.lo, c.hi)
		}
	}
	if small, big := days(PotKind{Litres: 1.5}, 500, 200), days(PotKind{Litres: 7}, 500, 200); small >= big {
		t.Errorf("a 1.5 L pot lasts %.1f days, a 7 L pot %.1f", small, big)
	}
}

func TestTheSamplingRateDoesNotMoveDaysLeft(t *testing.T) {
	var got []float64
	for _, step := range []int{1, 5, 10, 30, 60} {
		d := NewDryDown(PotKind{Clay: true})
		for m := 0; m < 10*1440; m += step {
			w := 600 * math.Exp(-0.06*float64(m)/1440)
			d.Take(gateStart.Add(time.Duration(m)*time.Minute), int64(math.Round(w)), true, 200, true)
		}
		v, _ := d.Expected(200)
		got = append(got, v)
		k, _, own := d.Rate()
		if !own || math.Abs(k-0.06) > 0.006 {
			t.Errorf("step %d min: rate %.4f a day, put in 0.06", step, k)
		}
	}
	if lo, hi := slices.Min(got), slices.Max(got); hi-lo > 0.02*hi {
		t.Errorf("days left by sampling rate: %.3v", got)
	}
}

func TestWaterThatNobodyNotedStartsTheLevelAnewAndKeepsTheRate(t *testing.T) {
	d := NewDryDown(PotKind{Clay: true})
	w := 600.0
	var before float64
	for m := 0; m < 16*1440; m += 10 {
		if m == 10*1440+70 {
			before, _, _ = d.Rate()
			w = 900
		}
		w *= math.Exp(-0.06 * 10 / 1440)
		d.Take(gateStart.Add(time.Duration(m)*time.Minute), int64(w), true, 200, true)
	}
	after, _, _ := d.Rate()
	if math.Abs(after/before-1) > 0.1 {
		t.Errorf("the rate went from %.4f to %.4f over a watering", before, after)
	}
	if days, _ := d.Expected(200); math.Abs(days-math.Log(w/200)/0.06) > 1.5 {
		t.Errorf("%.1f days left, truly %.1f", days, math.Log(w/200)/0.06)
	}
	if _, _, ok := NewDryDown(PotKind{}).DaysLeft(200); ok {
		t.Error("days left without a level")
	}
}

func TestAPotRemembersLastWintersRate(t *testing.T) {
	d := NewDryDown(PotKind{})
	d.Remember(0.05, 0.1)
	if k, spread, own := d.Rate(); math.Abs(k-0.05) > 1e-9 || !own || spread > 0.3 || spread < 0.1 {
		t.Errorf("rate %.3f ± %.2f, own %v", k, spread, own)
	}
	d.Season(true)
	grow, _, _ := d.Rate()
	if guess, _, _ := NewDryDown(PotKind{Growth: true}).Rate(); grow <= guess {
		t.Errorf("a pot that dries twice as fast as guessed at rest starts growth at %.3f, the guess is %.3f", grow, guess)
	}
}

func BenchmarkDryDown(b *testing.B) {
	d := NewDryDown(PotKind{})
	at, i := gateStart, int64(0)
	for b.Loop() {
		d.Take(at, 500-i%300, true, 200, true)
		at, i = at.Add(5*time.Minute), i+1
	}
}
