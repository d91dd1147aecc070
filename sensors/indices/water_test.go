package indices

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// The wetting stories are invented; eight points in twelve hours is common practice, no source.

func feedSteps(s *WetSteps, ks []knot, step int, thawing bool, before func(h float64)) (first float64) {
	for m := 0; float64(m)/60 <= ks[len(ks)-1].h; m += step {
		h := float64(m) / 60
		if before != nil {
			before(h)
		}
		_, w := track(ks, h)
		if s.Take(gateStart.Add(time.Duration(m)*time.Minute), int64(math.Round(w*10)), thawing) && first == 0 {
			first = h
		}
	}
	return first
}

// A drip from the roof: 38 to 71 % between evening and nine next morning, hours counted from 18:00.
var drip = []knot{{0, 5, 38}, {6, 5, 44}, {9, 5, 59}, {12, 5, 68}, {15, 5, 71}, {42, 5, 70}, {186, 5, 68}}

func TestADripIsOneEventOfWaterAtAnySamplingRate(t *testing.T) {
	for _, step := range gateSteps {
		var s WetSteps
		first := feedSteps(&s, drip, step, false, nil)
		st, ok := s.Last()
		if !ok || st.Cause != StepWater || st.Open {
			t.Fatalf("step %d min: %+v %v", step, st, ok)
		}
		if first < 7 || first > 11 {
			t.Errorf("step %d min: seen %.1f h after 18:00", step, first)
		}
		if st.From < 375 || st.From > 395 || st.To < 700 || st.To > 712 {
			t.Errorf("step %d min: from %d to %d", step, st.From, st.To)
		}
		if st.Start.After(gateStart.Add(8 * time.Hour)) {
			t.Errorf("step %d min: a second event at %v", step, st.Start)
		}
	}
}

func TestStepsThatAreNotALeak(t *testing.T) {
	watered := []knot{{0, 5, 38}, {5.5, 5, 38}, {6, 5, 46}, {9, 5, 53}, {48, 5, 52}}
	jump := []knot{{0, 8, 40}, {10, 8, 40}, {11, 8, 55}, {40, 8, 52}}
	for _, c := range []struct {
		name  string
		ks    []knot
		note  func(s *WetSteps)
		thaw  bool
		cause StepCause
	}{
		{"noted watering", watered, func(s *WetSteps) { s.Watered(gateStart.Add(330*time.Minute), 150) }, false, StepNoted},
		{"watering noted without an amount", watered, func(s *WetSteps) { s.Watered(gateStart.Add(330*time.Minute), 0) }, false, StepNoted},
		{"thaw", []knot{{0, 0, 12}, {20, 0, 38}, {30, 1, 38}}, func(*WetSteps) {}, true, StepThaw},
		{"feed", jump, func(s *WetSteps) { s.Fed(gateStart.Add(10 * time.Hour)) }, false, StepFeed},
		{"handled", jump, func(s *WetSteps) { s.Handled(gateStart.Add(10 * time.Hour)) }, false, StepHandled},
		{"far more than was noted", drip, func(s *WetSteps) { s.Watered(gateStart.Add(330*time.Minute), 100) }, false, StepWater},
		{"nothing noted", jump, func(*WetSteps) {}, false, StepWater},
	} {
		var s WetSteps
		feedSteps(&s, c.ks, 10, c.thaw, nil)
		c.note(&s) // back-dated, after the fact
		if st, ok := s.Last(); !ok || st.Cause != c.cause {
			t.Errorf("%s: %v %v", c.name, st.Cause, ok)
		}
	}
}

func TestAFeedHoldsTheWetVerdictTwoDays(t *testing.T) {
	var s WetSteps
	s.Fed(gateStart)
	for h, want := range map[time.Duration]bool{-time.Hour: false, 0: true, 47 * time.Hour: true, 48 * time.Hour: false} {
		if got := s.WetHeld(gateStart.Add(h)); got != want {
			t.Errorf("after %v: %v", h, got)
		}
	}
}

func TestADailyWaveOrOneWrongSampleIsNoEvent(t *testing.T) {
	var s WetSteps
	for m := 0; m < 10*1440; m += 5 {
		w := 400 + 30*math.Sin(2*math.Pi*float64(m)/1440)
		if m == 3000 || m == 7001 {
			w = 1000
		}
		s.Take(gateStart.Add(time.Duration(m)*time.Minute), int64(w), false)
	}
	if st, ok := s.Last(); ok {
		t.Errorf("%+v", st)
	}
}

func TestAWateringTheProbeDoesNotSeeIsPoorContact(t *testing.T) {
	var s WetSteps
	feedSteps(&s, []knot{{0, 5, 30}, {60, 5, 31}}, 15, false, func(h float64) {
		if h == 24 {
			s.Watered(gateStart.Add(24*time.Hour), 300)
		}
	})
	if at, ok := s.PoorContact(); !ok || !at.Equal(gateStart.Add(24*time.Hour)) {
		t.Errorf("%v %v", at, ok)
	}
	s = WetSteps{}
	feedSteps(&s, []knot{{0, 5, 30}, {24, 5, 30}, {25, 5, 60}, {60, 5, 58}}, 15, false, func(h float64) {
		if h == 24 {
			s.Watered(gateStart.Add(24*time.Hour), 300)
		}
	})
	if _, ok := s.PoorContact(); ok {
		t.Error("a rise of thirty points was called poor contact")
	}
}

func TestDryRightThroughAsksTheWettestLayer(t *testing.T) {
	for _, c := range []struct {
		layers []LayerWet
		want   bool
	}{
		{[]LayerWet{{100, true}}, true},
		{[]LayerWet{{50, true}, {300, true}}, false},
		{[]LayerWet{{50, true}, {150, true}}, true},
		{[]LayerWet{{50, true}, {0, false}}, false}, // the deep layer is not known
		{nil, false},
	} {
		if got := DryThrough(200, c.layers...); got != c.want {
			t.Errorf("%v: %v", c.layers, got)
		}
	}
}

func TestThawedDaysBelowTheLimit(t *testing.T) {
	for _, step := range gateSteps {
		var g FrozenGate
		var c DryClock
		due := 0.0
		ks := reallyDry()
		for m := 0; float64(m)/60 <= ks[len(ks)-1].h; m += step {
			h := float64(m) / 60
			temp, w := track(ks, h)
			now := gateStart.Add(time.Duration(m) * time.Minute)
			g.Take(now, int64(math.Round(temp*1000)), true, int64(math.Round(w*10)), true)
			wet, ok := g.Usable()
			c.Take(now, wet, ok, 200, g.ThawedFrom())
			if due == 0 && c.Sum() >= 72*time.Hour {
				due = h
			}
		}
		// The flat level began early on the 25th, so the third thawed day is full early on the 28th.
		if due < day(28, 0) || due > day(28, 8) {
			t.Errorf("step %d min: three thawed days full at hour %.2f of the 28th", step, due-day(28, 0))
		}
	}
}

func TestTheClockPausesAndStartsAnew(t *testing.T) {
	var c DryClock
	at := gateStart
	run := func(hours int, wet int64, usable bool) {
		for range hours * 4 {
			c.Take(at, wet, usable, 200, time.Time{})
			at = at.Add(15 * time.Minute)
		}
	}
	near := func(what string, want time.Duration) {
		if d := c.Sum() - want; d < -45*time.Minute || d > 45*time.Minute {
			t.Errorf("%s: %v, want about %v", what, c.Sum(), want)
		}
	}
	run(24, 190, true)
	near("a day below", 24*time.Hour)
	run(12, 30, false)
	near("half a day frozen counts nothing", 24*time.Hour)
	run(24, 210, true)
	near("a point over the limit goes on", 48*time.Hour)
	run(1, 220, true)
	near("two points over starts anew", 0)
	var w WetClock
	w.Take(at, 660, true, 650, time.Time{})
	w.Take(at.Add(time.Hour), 640, true, 650, time.Time{})
	if w.Sum() != time.Hour || !w.On() {
		t.Errorf("wet clock %v", w.Sum())
	}
	if w.Take(at.Add(2*time.Hour), 630, true, 650, time.Time{}); w.On() {
		t.Error("two points under the limit does not end it")
	}
}

// The slope put in (6 ‰ per °C, the size of a published drift) is found again under drying, noise and a daily wave.
func TestTheTemperatureSlopeIsFoundAndRemoved(t *testing.T) {
	for _, step := range []int{5, 10, 30, 60} {
		rnd := rand.New(rand.NewPCG(1, 2))
		var s TempSlope
		for d := range 14 {
			swing := 3 + 3*rnd.Float64()
			for m := 0; m < 1440; m += step {
				temp := 6 + swing*math.Sin(2*math.Pi*float64(m-540)/1440)
				wet := 500 - 8*(float64(d)+float64(m)/1440) + 6*temp + rnd.NormFloat64()*3
				s.Take(gateStart.Add(time.Duration(d*1440+m)*time.Minute), d, int64(temp*1000), int64(math.Round(wet)))
			}
		}
		got, ok := s.PerKelvin()
		if !ok || math.Abs(got-6) > 0.6 {
			t.Errorf("step %d min: %.2f ‰ per °C %v, want 6", step, got, ok)
		}
		if c := s.Correct(530, 15000); c < 495 || c > 505 {
			t.Errorf("530 ‰ at 15 °C is %d ‰ at 10 °C", c)
		}
	}
	var none TempSlope
	if none.Correct(530, 15000) != 530 {
		t.Error("a reading is changed before anything is known")
	}
}

func BenchmarkWetSteps(b *testing.B) {
	var s WetSteps
	at, i := gateStart, int64(0)
	for b.Loop() {
		s.Take(at, 400+i%1000/10, false)
		at, i = at.Add(5*time.Minute), i+1
	}
}

func BenchmarkTempSlope(b *testing.B) {
	var s TempSlope
	at, i := gateStart, 0
	for b.Loop() {
		s.Take(at, i/288, int64(5000+i%288*20), int64(400+i%7))
		at, i = at.Add(5*time.Minute), i+1
	}
}

func BenchmarkDryClock(b *testing.B) {
	var c DryClock
	at := gateStart
	for b.Loop() {
		c.Take(at, 190, true, 200, time.Time{})
		at = at.Add(5 * time.Minute)
	}
}
