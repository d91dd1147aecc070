package indices

import (
	"math"
	"math/rand/v2"
	"testing"

	"lathwatch/sensors/checks"
)

// fr-twostep and its kin: Snyder & de Melo-Abreu 2005, FAO Frost Protection vol. 1, ch. 5, ten radiation nights.
func faoNights(t testing.TB) (nights []FrostNight, t0, dew float64) {
	t.Helper()
	var in struct {
		T0, Td0, Tn []float64
		Predict     [2]float64
	}
	checks.Input(t, "fr-twostep", &in)
	for i := range in.T0 {
		nights = append(nights, FrostNight{in.T0[i], in.Td0[i], in.Tn[i]})
	}
	return nights, in.Predict[0], in.Predict[1]
}

func TestTheTwoStepFitGivesThePrintedPrediction(t *testing.T) {
	nights, t0, dew := faoNights(t)
	line, r2, err := TwoStep(nights)
	if err != nil {
		t.Fatal(err)
	}
	bare, _, err := TempOnly(nights)
	if err != nil {
		t.Fatal(err)
	}
	checks.Is(t, "fr-twostep", map[string]float64{"Tp": line.At(t0, dew)})
	checks.Is(t, "fr-twostep-coef", map[string]float64{"b0": line.Base, "b1": line.PerT, "b2": line.PerDew, "T0_only_b0": bare.Base, "r2": r2})
}

func TestTheJointFitIsAnotherOne(t *testing.T) {
	nights, t0, dew := faoNights(t)
	line, _, err := JointFit(nights)
	if err != nil {
		t.Fatal(err)
	}
	checks.Is(t, "fr-joint", map[string]float64{"b0": line.Base, "b1": line.PerT, "b2": line.PerDew, "Tp_10_2": line.At(t0, dew)})
}

func TestTheSquareRootTrend(t *testing.T) {
	var in struct {
		T2, Tmin float64
		Night    float64 `json:"night_h"`
	}
	curve := func() (out []float64) {
		for h := 3.0; h <= 15; h++ {
			v, ok := NightTrend(in.T2, in.Tmin, in.Night, h)
			if !ok {
				t.Fatalf("no trend at %v h", h)
			}
			out = append(out, v)
		}
		return out
	}
	checks.Input(t, "fr-trend-F", &in)
	checks.Is(t, "fr-trend-F", curve())
	checks.Input(t, "fr-trend-C", &in)
	checks.Is(t, "fr-trend-C", curve())
	for _, h := range []float64{1.9, 15.1} {
		if _, ok := NightTrend(1, -5, 15, h); ok {
			t.Errorf("a trend at %v h of a 15 h night", h)
		}
	}
}

// Ten made-up nights whose answer was worked out apart from this code with the same published method.
func TestAVectorWorkedOutElsewhere(t *testing.T) {
	t2 := []float64{6.1, 4.0, 2.2, 7.5, 5.3, 3.4, 1.0, 8.2, 4.8, 2.9}
	dew := []float64{1.5, -2.0, -3.5, 3.8, 0.2, -4.1, -5.0, 2.6, -1.2, 0.4}
	low := []float64{-0.4, -2.9, -4.6, 1.6, -1.5, -4.4, -5.9, 1.1, -2.3, -2.2}
	var nights []FrostNight
	for i := range t2 {
		nights = append(nights, FrostNight{t2[i], dew[i], low[i]})
	}
	line, _, err := TwoStep(nights)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "per °C", line.PerT, 1.01507, 1e-5)
	near(t, "per °C dew point", line.PerDew, 0.11463, 1e-5)
	near(t, "base", line.Base, -6.67472, 1e-5)
	near(t, "prediction for 5, -1", line.At(5, -1), -1.714, 5e-4)
	var sum float64
	for _, n := range nights {
		d := n.Low - line.At(n.T, n.Dew)
		sum += d * d
	}
	near(t, "training error", math.Sqrt(sum/10), 0.619, 5e-4)
	for i, h := range []float64{3, 4, 6, 8, 10} {
		v, _ := NightTrend(4, -3, 10, h)
		near(t, "curve", v, []float64{1.525, 0.5, -0.95, -2.062, -3}[i], 5e-4)
	}
}

func near(t testing.TB, what string, got, want, within float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > within {
		t.Errorf("%s: got %v, want %v within %v", what, got, want, within)
	}
}

func TestTheRulesForAnAfternoonAndAFirstSeason(t *testing.T) {
	near(t, "6 °C with dew 3 °C in spring", AfternoonLow(6, 3, false), -5.5, 1e-12) // the study's example as relayed
	near(t, "9 °C with dew -1 °C in spring", AfternoonLow(9, -1, false), -5.1667, 1e-4)
	near(t, "midwinter is one degree lower", AfternoonLow(6, 3, true), -6.5, 1e-12)
	var f FrostFit
	est, ok := f.Estimate(FrostAtDusk, FrostEvening{T: 0.9, OK: true}, FrostSky{}, false)
	if !ok || !est.Guess {
		t.Errorf("a first season's estimate is not called a guess: %+v", est)
	}
	near(t, "guess after dusk", est.Low, -5.1, 1e-12)
	if _, ok := f.Estimate(FrostAt18, FrostEvening{}, FrostSky{}, false); ok {
		t.Error("an estimate without a reading")
	}
}

func TestAPlaceLearnsFromItsOwnClearNights(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	night := func(clear bool) ([3]FrostEvening, FrostSky, float64) {
		t15, dew := 8+3*rnd.NormFloat64(), -1+2*rnd.NormFloat64()
		t18, t2 := t15-3+0.5*rnd.NormFloat64(), t15-6+0.8*rnd.NormFloat64()
		low := t2*0.8 + dew*0.2 - 4 + 0.5*rnd.NormFloat64()
		sky := FrostSky{Clear: 1, ClearOK: true, Wind: 0.5, WindOK: true}
		if !clear {
			low, sky = low+4, FrostSky{Clear: 0, ClearOK: true, Wind: 4, WindOK: true}
		}
		return [3]FrostEvening{{t15, dew, true, true}, {t18, dew, true, true}, {t2, dew, true, true}}, sky, low
	}
	var f FrostFit
	for i := range 60 {
		e, sky, low := night(i%3 != 0)
		f.Add(e, sky, low)
	}
	for h, limit := range []float64{1.2, 1.2, 0.8} {
		var sum float64
		for i := range 60 {
			e, sky, low := night(i%2 == 0)
			est, ok := f.Estimate(FrostHour(h), e[h], sky, false)
			if want := map[bool]int{true: 40, false: 60}[sky.Clear == 1]; !ok || est.Guess || est.Nights != want {
				t.Fatalf("%+v", est)
			}
			sum += (est.Low - low) * (est.Low - low)
		}
		if rms := math.Sqrt(sum / 60); rms > limit {
			t.Errorf("%s: error %.2f °C on new nights, clear and cloudy", FrostHour(h), rms)
		}
	}
	var again FrostFit
	for _, r := range f.Records() {
		again.Add(r.Evening, r.Sky, r.Low)
	}
	x, _ := f.Estimate(FrostAt18, FrostEvening{5, 0, true, true}, FrostSky{}, false)
	if y, _ := again.Estimate(FrostAt18, FrostEvening{5, 0, true, true}, FrostSky{}, false); x != y {
		t.Errorf("kept nights give %+v, the first fit %+v", y, x)
	}
	e, _, low := night(true)
	est, _ := f.Estimate(FrostAtDusk, FrostEvening{T: e[2].T, OK: true}, FrostSky{}, false)
	if est.Guess || math.Abs(est.Low-low) > 3 {
		t.Errorf("without a dew point: %+v for %.1f", est, low)
	}
}

func TestThePlaceOffsetIsLearned(t *testing.T) {
	var p PlaceOffset
	if o, _, guess := p.Offset(false); o != 900 || !guess {
		t.Errorf("before any night: %d, guess %v", o, guess)
	}
	p.Add(-1900, -3800, false)
	if o, ok := p.Last(); !ok || o != 1900 {
		t.Errorf("tonight's offset %d", o)
	}
	for range 40 {
		p.Add(-1500, -3000, false)
		p.Add(100, 0, true)
	}
	var kept PlaceOffset
	kept.Remember(p.Sums())
	p = kept
	clear, spread, guess := p.Offset(false)
	cloudy, _, _ := p.Offset(true)
	if clear < 1400 || clear > 1550 || guess || spread > 0.5 || cloudy < 50 || cloudy > 100 {
		t.Errorf("clear %d ± %.2f, cloudy %d", clear, spread, cloudy)
	}
}

func TestALeafUnderTheOpenSkyIsColderThanTheAir(t *testing.T) {
	for _, c := range []struct {
		roof  bool
		clear float64
		want  Milli
	}{{false, 1, 2500}, {true, 1, 500}, {false, 0, 0}, {false, 0.4, 1000}, {false, 3, 2500}} {
		if got := LeafBelowAir(c.roof, c.clear); got != c.want {
			t.Errorf("%+v: %d", c, got)
		}
	}
}

func TestTheMorningGuessUsesThreeNightsAndItsOwnError(t *testing.T) {
	var l NightLows
	if _, known := l.FrostAhead(0); known {
		t.Error("an answer before any night")
	}
	for i := range 3 {
		l.Add(i, 2000)
	}
	if low, err, ok := l.Ahead(); !ok || low != 2000 || err != 3000 {
		t.Errorf("%d ± %d %v", low, err, ok)
	}
	if expected, _ := l.FrostAhead(0); !expected {
		t.Error("2 °C with an unknown error of 3 °C leaves frost out")
	}
	for i := 3; i < 20; i++ {
		l.Add(i, 2000+Milli(i%2)*200)
	}
	if expected, _ := l.FrostAhead(0); expected {
		t.Error("steady nights at 2 °C still say frost")
	}
	l.Add(30, 0)
	if _, _, ok := l.Ahead(); ok {
		t.Error("the mean bridges ten missing nights")
	}
}

func BenchmarkFrostFit(b *testing.B) {
	var f FrostFit
	e := [3]FrostEvening{{8, 1, true, true}, {5, 1, true, true}, {2, 0, true, true}}
	for i := range 200 {
		x := math.Sin(float64(i) * 1.7)
		e[0].T, e[1].T, e[2].T, e[2].Dew = 8+x, 5+x, 2+x, math.Cos(float64(i))
		f.Add(e, FrostSky{}, -3+x)
	}
	i := 0.0
	for b.Loop() {
		i++
		e[2].T, e[2].Dew = 2+math.Sin(i), math.Cos(3*i)
		f.Add(e, FrostSky{}, -3+math.Sin(i))
		f.Estimate(FrostAtDusk, e[2], FrostSky{}, false)
	}
}
