package indices

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lathwatch/sensors/garden"
)

// An invented maritime climate: monthly means and the spread of a month's mean from year to year, °C.
var maritime = garden.Normals{
	Mean:   [12]float64{4.6, 4.9, 6.6, 8.9, 12.1, 14.9, 16.8, 16.6, 14.1, 10.8, 7.3, 5.1},
	Spread: [12]float64{1.6, 1.7, 1.3, 1.1, 1.1, 1.0, 1.1, 1.1, 1.0, 1.2, 1.2, 1.6},
}

var continental = garden.Normals{
	Mean:   [12]float64{-2.4, -1.0, 3.4, 9.0, 14.1, 17.3, 19.2, 18.6, 14.0, 8.6, 3.2, -0.9},
	Spread: [12]float64{2.6, 2.5, 1.8, 1.4, 1.3, 1.1, 1.2, 1.2, 1.2, 1.3, 1.5, 2.2},
}

func civil(y int, m time.Month, d int) garden.Date {
	return garden.Calendar{Zone: time.UTC}.DateOf(time.Date(y, m, d, 12, 0, 0, 0, time.UTC))
}

// weather draws days about the normals with a memory from day to day; it shares no code with Window but the normals' meaning.
type weather struct {
	rnd    *rand.Rand
	n      garden.Normals
	memory float64
	off    float64
}

func (w *weather) next(d garden.Date) float64 {
	m, s := ClimateOn(w.n, d)
	w.off = w.memory*w.off + math.Sqrt(1-w.memory*w.memory)*w.rnd.NormFloat64()
	return m + s*w.off
}

// A syntheticPlant breaks when the degree-days of its year reach a need that differs from plant to plant and from year to year.
type trial struct {
	climate     garden.Normals
	class       ForcingClass
	memory      float64 // of the weather drawn
	base, swing float64
	asked       int // days after 1 January at which the window is asked for
	early, late float64
	ownYears    int
	plants      int
}

// coverage is the share of plants whose break fell within the window, and the mean width of the windows in days.
func (tr trial) coverage(seed uint64) (inside, width float64) {
	rnd := rand.New(rand.NewPCG(seed, 1))
	w := &weather{rnd: rnd, n: tr.climate, memory: tr.memory}
	start := civil(2026, time.January, 1)
	dd := DegreeDays{Method: Sine, Base: tr.base}
	year := func(need float64) (sums []float64, broke int) {
		sum := 0.0
		for i := range 365 {
			t := w.next(start + garden.Date(i))
			sum += dd.Day(DayRange{Min: t - tr.swing, Max: t + tr.swing})
			sums = append(sums, sum)
			if sum >= need {
				return sums, i
			}
		}
		return sums, 365
	}
	counted := 0
	for range tr.plants {
		plant := tr.class.Mean + tr.class.Between*rnd.NormFloat64()
		needOf := func() float64 { return plant + tr.class.Within*rnd.NormFloat64() }
		var own []float64
		for range tr.ownYears {
			sums, broke := year(needOf())
			own = append(own, sums[min(broke, 364)])
		}
		sums, broke := year(needOf())
		if broke <= tr.asked {
			continue // already out when the question is asked
		}
		so := 0.0
		if tr.asked > 0 {
			so = sums[tr.asked-1]
		}
		from, to, ok := Window(BreakQuestion{Today: start + garden.Date(tr.asked), SoFar: [2]float64{so, so}, Need: Shrink(own, tr.class),
			Base: tr.base, Climate: tr.climate, Swing: tr.swing, Early: tr.early, Late: tr.late})
		if !ok {
			continue
		}
		counted++
		width += float64(to-from) + 1
		if at := start + garden.Date(broke); from <= at && at <= to {
			inside++
		}
	}
	return inside / float64(counted), width / float64(counted)
}

func TestAWindowOf80PercentHoldsFourBreaksInFive(t *testing.T) {
	middle := ForcingClass{Mean: 175, Between: 40, Within: 20}
	all, n := 0.0, 0
	for _, years := range []int{0, 1, 3, 8} {
		for i, climate := range []garden.Normals{maritime, continental} {
			tr := trial{climate: climate, class: middle, memory: dailyMemory, base: 5, swing: 4, asked: 31, early: 0.1, late: 0.9, ownYears: years, plants: 1000}
			got, width := tr.coverage(uint64(10*years + i))
			name := fmt.Sprintf("%d own years, %s", years, []string{"maritime", "continental"}[i])
			t.Logf("%s: %.1f %% of 80 %% windows hold the break, %.0f days wide", name, 100*got, width)
			if got < 0.75 || got > 0.85 {
				t.Errorf("%s: %.3f of the windows hold the break", name, got)
			}
			all, n = all+got, n+1
		}
	}
	t.Logf("all together: %.1f %%", 100*all/float64(n))
}

func TestTheWindowShownHoldsThreeBreaksInFive(t *testing.T) {
	tr := trial{climate: maritime, class: ForcingClass{Mean: 175, Between: 40, Within: 20}, memory: dailyMemory, base: 5, swing: 4,
		asked: 45, ownYears: 4, plants: 2000}
	got, width := tr.coverage(7)
	t.Logf("20th to 80th percentile: %.1f %% hold the break, %.0f days wide", 100*got, width)
	if got < 0.55 || got > 0.65 {
		t.Errorf("got %.3f", got)
	}
	tr.memory = 0.85
	got, width = tr.coverage(7)
	t.Logf("in weather that remembers more than assumed: %.1f %%, %.0f days wide", 100*got, width)
}

func TestTheMonthlyNormalsAreKept(t *testing.T) {
	if m, _ := ClimateOn(maritime, civil(2026, time.January, 16)); math.Abs(m-4.6) > 0.05 {
		t.Errorf("the middle of January is %v", m)
	}
	if m, _ := ClimateOn(maritime, civil(2026, time.January, 1)); math.Abs(m-4.85) > 0.05 {
		t.Errorf("new year lies between December and January: got %v", m)
	}
	rnd := rand.New(rand.NewPCG(3, 3))
	w := &weather{rnd: rnd, n: maritime, memory: dailyMemory}
	var januaries []float64
	for range 4000 {
		var days []float64
		for d := range garden.Date(30) {
			days = append(days, w.next(civil(2026, time.January, 1)+d))
		}
		januaries = append(januaries, mean(days))
		for range 60 {
			w.next(civil(2026, time.February, 1))
		}
	}
	m := mean(januaries)
	for i := range januaries {
		januaries[i] -= m
	}
	if s := rootMeanSquare(januaries); math.Abs(s-1.6) > 0.08 {
		t.Errorf("simulated Januaries spread by %.2f °C, the normals say 1.6", s)
	}
}

func TestAWindowIsNarrowNearTheEndAndWideOverAGap(t *testing.T) {
	// A need known exactly: only the weather ahead is unsure. (A need known to ±20 degree-days is worth more days in cool March
	// than in warm May, so a window need not narrow as the day comes nearer.)
	q := BreakQuestion{Today: civil(2026, time.March, 1), SoFar: [2]float64{60, 60}, Need: ForcingNeed{Mean: 175},
		Base: 5, Climate: maritime}
	wide := func(q BreakQuestion) int {
		a, b, ok := Window(q)
		if !ok || a > b || a < q.Today {
			t.Fatalf("window %v to %v, %v", a, b, ok)
		}
		return int(b - a)
	}
	far := wide(q)
	q.SoFar = [2]float64{140, 140}
	near := wide(q)
	q.SoFar = [2]float64{80, 200}
	gap := wide(q)
	if !(near < far && gap > near) {
		t.Errorf("far %d days, near %d, over a gap %d", far, near, gap)
	}
	q.Climate = garden.Normals{Mean: [12]float64{-9, -9, -9, -9, -9, -9, -9, -9, -9, -9, -9, -9}}
	q.SoFar = [2]float64{0, 0}
	if _, _, ok := Window(q); ok {
		t.Error("a climate without warmth brought a break")
	}
	q.Climate = garden.Normals{Mean: [12]float64{15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15}}
	q.Need = ForcingNeed{Mean: 95}
	a, b, ok := Window(q)
	if !ok || a != b || a != q.Today+9 {
		t.Errorf("95 degree-days at exactly 10 a day are there on the tenth day: got %v to %v, %v", a, b, ok)
	}
}
