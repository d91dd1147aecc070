package indices

import (
	"math"
	"testing"
	"time"
)

// A bright February day with glass leaned on the sunny side of the table (invented, after a gardener's log of a frame 14 to 18 °C
// over the air outside): hours, wall, table, pot behind the glass, pot at the open end.
var glassDay = [][5]float64{{0, -1.5, -1.2, 1.0, 1.0}, {3, -2.4, -2.1, 1.1, 1.0}, {9, -1.0, 0.2, 0.8, 0.8}, {11, 1.5, 8.0, 2.6, 1.2}, {13.5, 3.4, 17.5, 7.4, 2.6},
	{15.1667, 3.1, 9.3, 9.1, 3.2}, {17, 1.2, 2.0, 7.0, 2.7}, {24, -1.5, -1.2, 1.2, 1.1}}

func glassAt(h float64) (wall, table, here, other float64) {
	for i := 1; i < len(glassDay); i++ {
		a, b := glassDay[i-1], glassDay[i]
		if h <= b[0] {
			f := (h - a[0]) / (b[0] - a[0])
			at := func(j int) float64 { return a[j] + f*(b[j]-a[j]) }
			return at(1), at(2), at(3), at(4)
		}
	}
	return 0, 0, 0, 0
}

// runGlass feeds days from 8 to 11 February, the 10th dull, and gives the first hour (counted from the 8th) of each verdict.
func runGlass(step int, change func(r *PocketRound)) map[HeatVerdict]float64 {
	var p HeatPockets
	first := map[HeatVerdict]float64{}
	start := time.Date(2027, 2, 8, 0, 0, 0, 0, time.UTC)
	for m := 0; m < 4*1440; m += step {
		h := float64(m%1440) / 60
		wall, table, here, other := glassAt(h)
		if m/1440 == 2 {
			table, here, other = wall+0.5, 1, 1
		}
		c := func(v float64) Milli { return Milli(math.Round(v * 1000)) }
		r := PocketRound{Day: 8 + m/1440, Daylight: h > 7.5 && h < 17.3, Air: c(table), Wall: c(wall), Here: c(here), Elsewhere: c(other),
			AirOK: true, WallOK: true, HereOK: true, ElseOK: true}
		change(&r)
		p.Take(start.Add(time.Duration(m)*time.Minute), r)
		v, _ := p.Verdict()
		if _, seen := first[v]; !seen {
			first[v] = float64(m) / 60
		}
	}
	return first
}

func TestGlassMakesAHeatPocketOnTheSecondBrightDay(t *testing.T) {
	for _, step := range []int{5, 10, 15, 30, 60} {
		first := runGlass(step, func(*PocketRound) {})
		h, ok := first[HeatPocket]
		if !ok || h < 24+15 || h > 24+21 {
			t.Errorf("every %d min: pocket %v at hour %.1f of the 9th", step, ok, h-24)
		}
		if _, ok := first[HeatSunOnSensor]; ok {
			t.Errorf("every %d min: the sensor is blamed", step)
		}
	}
}

func TestTheSunOnASensorIsNotAHeatPocket(t *testing.T) {
	for _, step := range []int{5, 10, 15, 30, 60} {
		first := runGlass(step, func(r *PocketRound) { r.Here = r.Elsewhere })
		if _, ok := first[HeatPocket]; ok {
			t.Errorf("every %d min: a pocket though the pots did not warm", step)
		}
		if h, ok := first[HeatSunOnSensor]; !ok || h < 24+15 || h > 48 {
			t.Errorf("every %d min: sun on the sensor %v at hour %.1f", step, ok, h)
		}
	}
}

func TestWithoutAReferenceOrPotsNothingIsSaid(t *testing.T) {
	first := runGlass(15, func(r *PocketRound) { r.WallOK = false })
	if len(first) != 1 || first[HeatUnknown] != 0 {
		t.Errorf("without a wall sensor: %v", first)
	}
	first = runGlass(15, func(r *PocketRound) { r.HereOK = false })
	if _, ok := first[HeatPocket]; ok {
		t.Error("a pocket without asking the pots")
	}
	if _, ok := first[HeatSunOnSensor]; ok {
		t.Error("the sensor is blamed without asking the pots")
	}
	first = runGlass(15, func(r *PocketRound) { r.Air = r.Wall + 7000 }) // warm at night too: heating, or another calibration
	if _, ok := first[HeatPocket]; ok {
		t.Error("a difference that stays at night is called a pocket")
	}
}

func TestTheOffsetIsLearnedByHour(t *testing.T) {
	for _, step := range []int{5, 60} {
		var o HourlyOffset
		for m := 0; m < 20*1440; m += step {
			h := m % 1440 / 60
			d := Milli(300)
			if h == 13 {
				d = 4000
			}
			o.Take(h, 5000+d, 5000)
		}
		noon, days := o.At(13)
		night, _ := o.At(3)
		if noon != 4000 || night != 300 || days != 14 {
			t.Errorf("every %d min: %d at 13:00, %d at 3:00, %d days", step, noon, night, days)
		}
	}
}

func TestSnowIsToldFromFreezingAndFromADeadSensor(t *testing.T) {
	air := func(h int) Milli { return Milli(-6000 + 4000*math.Sin(2*math.Pi*float64(h-9)/24)) }
	run := func(surface bool, hours int, pinned func(h int) Milli, bright bool) bool {
		s := SnowCover{Surface: surface}
		for h := range hours {
			s.Take(gateStart.Add(time.Duration(h)*time.Hour), pinned(h), air(h), bright)
		}
		_, ok := s.Covered()
		return ok
	}
	snow := func(h int) Milli { return Milli(-120 + 62*(h/5%3)) }
	for _, c := range []struct {
		name    string
		surface bool
		hours   int
		pinned  func(h int) Milli
		bright  bool
		want    bool
	}{
		{"surface under snow", true, 48, snow, false, true},
		{"surface under snow for half a day", true, 12, snow, false, false},
		{"pot under snow for a week", false, 168, snow, false, true},
		{"pot freezing through for two days", false, 48, snow, false, false},
		{"dead sensor at zero", true, 168, func(int) Milli { return 0 }, false, false},
		{"bare surface", true, 168, air, false, false},
		{"thaw", true, 48, func(h int) Milli { return Milli(100 * h) }, false, false},
		{"daylight on it", true, 48, snow, true, false},
	} {
		if got := run(c.surface, c.hours, c.pinned, c.bright); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// Hours over a limit under a known sine: the answer is plain geometry.
func TestRootHeatHoursOfAKnownWave(t *testing.T) {
	want := func(limit float64) float64 { return 24 * math.Acos((limit-22)/5) / math.Pi }
	for _, step := range []int{1, 5, 15, 30, 60} {
		var h HeatHours
		for m := 0; m <= 1440; m += step {
			v := 22 + 5*math.Sin(2*math.Pi*float64(m)/1440)
			h.Take(gateStart.Add(time.Duration(m)*time.Minute), 1, Milli(math.Round(v*1000)))
		}
		o20, o25, o28 := h.Hours()
		near(t, "over 20", o20, want(20), 0.15)
		near(t, "over 25", o25, want(25), 0.15)
		near(t, "over 28", o28, 0, 0)
		mean, _ := h.Today().Mean()
		near(t, "mean", float64(mean), 22000, 5)
		if h.Today().Peak < 26950 {
			t.Errorf("peak %d", h.Today().Peak)
		}
	}
}

func TestRootHeatLevels(t *testing.T) {
	day := func(h *HeatHours, d int, mean, swing float64) {
		for m := 0; m < 1440; m += 15 {
			v := mean + swing*math.Sin(2*math.Pi*float64(m-540)/1440)
			h.Take(gateStart.Add(time.Duration(d*1440+m)*time.Minute), d, Milli(v*1000))
		}
	}
	var h HeatHours
	day(&h, 1, 21, 2)
	day(&h, 2, 21, 2)
	if h.Level() != HeatFine {
		t.Error("two warm days already say watch")
	}
	day(&h, 3, 21, 2)
	day(&h, 4, 19, 2)
	if h.Level() != HeatWatch {
		t.Error("three days over 20 °C in the mean say nothing")
	}
	day(&h, 5, 23, 4) // over 25 for eight hours
	if h.Level() == HeatAct {
		t.Error("one day with hours over 25 °C already says act")
	}
	day(&h, 6, 23, 4)
	if h.Level() != HeatAct {
		t.Error("two days with hours over 25 °C do not say act")
	}
	once := HeatHours{}
	day(&once, 1, 22, 6.1)
	if once.Level() != HeatAct {
		t.Error("28 °C once does not say act")
	}
	high := HeatHours{Shift: -2000}
	day(&high, 1, 20, 6.1)
	if high.Level() != HeatAct {
		t.Error("a high-mountain kind at 26 °C is fine")
	}
}

func BenchmarkHeatPockets(b *testing.B) {
	var p HeatPockets
	at, i := gateStart, 0
	for b.Loop() {
		p.Take(at, PocketRound{Day: i / 288, Daylight: i%288 > 100, Air: 5000, Wall: 3000, Here: 4000, Elsewhere: 3000, AirOK: true, WallOK: true, HereOK: true, ElseOK: true})
		at, i = at.Add(5*time.Minute), i+1
	}
}

func BenchmarkHeatHours(b *testing.B) {
	var h HeatHours
	at, i := gateStart, 0
	for b.Loop() {
		h.Take(at, i/288, Milli(20000+i%288*20))
		at, i = at.Add(5*time.Minute), i+1
	}
}

func BenchmarkSnowCover(b *testing.B) {
	var s SnowCover
	at := gateStart
	for b.Loop() {
		s.Take(at, -60, -5000, false)
		at = at.Add(5 * time.Minute)
	}
}

func BenchmarkHourlyOffset(b *testing.B) {
	var o HourlyOffset
	i := 0
	for b.Loop() {
		o.Take(i/12%24, 5000, 4000)
		i++
	}
}
