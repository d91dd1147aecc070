package indices

import (
	"math"
	"testing"
	"time"

	"lathwatch/sensors/checks"
)

func TestReleaseFollowsTheQ10Law(t *testing.T) {
	checks.Is(t, "fe-nominal", map[string]float64{"nominal_T_C": GranuleRefC})
	var in struct{ Q10, T_C []float64 }
	checks.Input(t, "fe-q10", &in)
	var rows [][]float64
	for _, q := range in.Q10 {
		rows = append(rows, mapOf(in.T_C, func(x float64) float64 { return ReleaseRate(x, GranuleRefC, q) }))
	}
	checks.Is(t, "fe-q10", rows)
	// Growers' rule of halving per 9 °C, own calculation: share of the rated speed.
	for x, want := range map[float64]float64{3: 0.25, 5: 0.29, 8: 0.37, 10: 0.43, 15: 0.63, 21: 1, 30: 2} {
		near(t, "halving per 9 °C", ReleaseRate(x, GranuleRefC, GranuleQ10), want, 0.006)
	}
	if ReleaseRate(-0.1, 21, 2) != 0 {
		t.Error("granules release below zero")
	}
}

func granulesAt(q10, life float64, days int, temp Milli, step time.Duration) float64 {
	g := Granules{LifeDays: life, Q10: q10}
	for at := gateStart; !at.After(gateStart.Add(time.Duration(days) * 24 * time.Hour)); at = at.Add(step) {
		g.Take(at, temp, true)
	}
	low, high := g.Released()
	if low != high {
		panic("a full record has an interval")
	}
	return low
}

func TestGranulesAddUpPotTemperature(t *testing.T) {
	var in struct {
		Q10, T  float64
		Days    int
		Nominal float64 `json:"nominal_days"`
	}
	checks.Input(t, "fe-integral", &in)
	for _, step := range []time.Duration{5 * time.Minute, 15 * time.Minute, time.Hour} {
		got := granulesAt(in.Q10, in.Nominal, in.Days, Milli(in.T*1000), step)
		checks.Is(t, "fe-integral", got)
	}
	// Own calculation from the trade's rule: 2 g/L of a 15 % six-month type for 14 days at 8 °C give about 9 mg N per litre of pot.
	got := GranuleN(2, 15, granulesAt(0, 0, 14, 8000, 15*time.Minute))
	if got < 8.2 || got > 9.2 {
		t.Errorf("%.2f mg N per litre in the first fortnight at 8 °C", got)
	}
	near(t, "one soak of 300 mL per litre at 100 mg/L", SoakN(300, 100), 30, 1e-12)
}

func TestGranulesRestWhenFrozenOrDryAndAGapWidensTheAnswer(t *testing.T) {
	var g Granules
	at := gateStart
	for range 48 {
		g.Take(at, 10000, false)
		at = at.Add(time.Hour)
	}
	if low, high := g.Released(); low != 0 || high != 0 {
		t.Errorf("released %.3f to %.3f while dry", low, high)
	}
	g.Take(at.Add(71*time.Hour), 10000, true)
	low, high := g.Released()
	if low != 0 || math.Abs(high-72.0/24/GranuleLife) > 1e-3 {
		t.Errorf("after a gap of 72 h: %.4f to %.4f", low, high)
	}
}

// Coated urea and compound granules, 25 °C for 220 days against full release at 100 °C: one Q10 must join the two ends.
func TestReleaseFromTwentyFiveToAHundredDegrees(t *testing.T) {
	const q10 = 1.7
	life25 := 220 / (-math.Log(1-0.672) / math.Ln10) // the life that gives the middle of the published share
	rate := ReleaseRate(100, 25, q10)
	checks.Is(t, "fe-wang", map[string]float64{
		"25C_220d_pct_N":      100 * FrontLoaded(220/life25),
		"100C_full_release_h": life25 / rate * 24,
	})
}

func TestReleaseComesEarly(t *testing.T) {
	// The week a 9 month type falls to half its first speed, in a trial that saw high leaching up to week 20 of 47.
	half := math.Log(2) / math.Ln10 * 39
	checks.Is(t, "fe-early", map[string]float64{"high_weeks": half, "study_weeks": 47})
	if FrontLoaded(0.25) <= 0.25 || math.Abs(FrontLoaded(1)-0.9) > 1e-9 {
		t.Errorf("a quarter of the life gives %.2f, the whole %.2f", FrontLoaded(0.25), FrontLoaded(1))
	}
}

func TestFeedArithmetic(t *testing.T) {
	var in struct {
		G []float64 `json:"g_per_L"`
		N []float64 `json:"pct_N"`
	}
	checks.Input(t, "fe-N", &in)
	var out []float64
	for i := range in.G {
		out = append(out, NOf(in.G[i], in.N[i]))
	}
	checks.Is(t, "fe-N", out)
	checks.Is(t, "fe-EC", EC25(1.2, 15))
	checks.Is(t, "fe-rates", map[string][]float64{"low_g_L": {DoseLow.Lo, DoseLow.Hi}, "medium_g_L": {DoseMedium.Lo, DoseMedium.Hi}, "high_g_L": {DoseHigh.Lo, DoseHigh.Hi}})
	if DoseOrchid.Hi > 2.5 || NOf(DoseOrchid.Hi, 15) > 0.5*NOf(5, 15) {
		t.Error("the orchid dose passes half of the nursery standard")
	}
	var b FeedBook
	b.Soaked(900, 3, 100)
	b.Soaked(300, 3, 50)
	near(t, "liquid nitrogen", b.Liquid(), 35, 1e-9)
	if b.Restart(); b.Liquid() != 0 {
		t.Error("a new season starts with old nitrogen")
	}
}

func BenchmarkGranules(b *testing.B) {
	var g Granules
	at, i := gateStart, int64(0)
	for b.Loop() {
		g.Take(at, 8000+i%50, true)
		at, i = at.Add(5*time.Minute), i+1
	}
}
