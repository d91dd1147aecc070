package indices

import (
	"encoding/csv"
	"errors"
	"math"
	"strconv"
	"testing"
	"time"

	"lathwatch/sensors/checks"

	"pgregory.net/rapid"
)

// cherrySeasons are the 46 seasons 1980 to 2025 of the flowering cherries by the Potomac: daily means in °C from 1 January.
func cherrySeasons(t testing.TB) []SeasonRecord {
	t.Helper()
	read := func(name string) [][]string {
		rows, err := csv.NewReader(checks.Data(t, name)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		return rows[1:]
	}
	means := map[string]map[int]float64{}
	for _, r := range read("dc_daily_1980_2026.csv") {
		day, err := time.Parse(time.DateOnly, r[0])
		high, err1 := strconv.ParseFloat(r[1], 64)
		low, err2 := strconv.ParseFloat(r[2], 64)
		if err != nil || err1 != nil || err2 != nil {
			continue
		}
		if means[r[0][:4]] == nil {
			means[r[0][:4]] = map[int]float64{}
		}
		means[r[0][:4]][day.YearDay()] = ((high+low)/2 - 32) / 1.8
	}
	var out []SeasonRecord
	for _, r := range read("dc_cherry_peak_bloom_1921_2026.csv") {
		doy, err := strconv.Atoi(r[2])
		if err != nil {
			t.Fatal(err)
		}
		if r[0] < "1980" || r[0] > "2025" {
			continue
		}
		s := SeasonRecord{Seen: doy - 1}
		for d := 1; d <= 181; d++ {
			m, ok := means[r[0]][d]
			if !ok {
				t.Fatalf("no temperature on day %d of %s", d, r[0])
			}
			s.Means = append(s.Means, m)
		}
		out = append(out, s)
	}
	return out
}

func missesOf(t *testing.T, seasons []SeasonRecord, m ThermalTime) []float64 {
	t.Helper()
	var out []float64
	for i, s := range seasons {
		day, ok := m.Day(s.Means)
		if !ok {
			t.Fatalf("season %d: no bloom", i)
		}
		out = append(out, float64(day-s.Seen))
	}
	return out
}

func TestThermalTimeBeatsTheMeanDateOnTheCherries(t *testing.T) {
	seasons := cherrySeasons(t)
	day, rmse, leftOut := meanDate(seasons)
	checks.Is(t, "ph-dc-null", map[string]float64{"mean_doy": day + 1, "sd_pop": rmse, "loo_rmse": leftOut})

	var in struct {
		Tb   float64
		T0   int     `json:"t0_doy"`
		Need float64 `json:"F_star"`
	}
	checks.Input(t, "ph-dc-thermal", &in)
	misses := missesOf(t, seasons, ThermalTime{DegreesAbove(in.Tb), in.T0 - 1, in.Need})
	checks.Is(t, "ph-dc-thermal", map[string]float64{"rmse_days": rootMeanSquare(misses), "bias": mean(misses)})
	fitThermal := reportFit(t, "thermal time, base 4 °C from 1 February", seasons, DegreesAbove(in.Tb), in.T0-1, rootMeanSquare(misses))

	checks.Input(t, "ph-dc-logistic", &in)
	misses = missesOf(t, seasons, ThermalTime{LogisticForcing, in.T0 - 1, in.Need})
	checks.Is(t, "ph-dc-logistic", map[string]float64{"rmse_days": rootMeanSquare(misses)})
	fitLogistic := reportFit(t, "logistic forcing from 11 February", seasons, LogisticForcing, in.T0-1, rootMeanSquare(misses))

	if fitThermal.MeanDayLeftOut != leftOut || !fitThermal.BeatsMeanDate() || !fitLogistic.BeatsMeanDate() {
		t.Errorf("fits left out %v and %v, mean date %v", fitThermal.LeftOut, fitLogistic.LeftOut, leftOut)
	}
}

// reportFit prints a fit beside the mean date and holds it to be at least as good as a given need.
func reportFit(t *testing.T, name string, seasons []SeasonRecord, rate Rate, from int, given float64) ForcingFit {
	t.Helper()
	f, err := FitForcing(seasons, rate, from)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s: need %.1f, RMSE %.3f d, bias %+.3f d, seasons left out %.3f d; mean date %.3f d, left out %.3f d (%d seasons)",
		name, f.Need, f.RMSE, f.Bias, f.LeftOut, f.MeanDayRMSE, f.MeanDayLeftOut, f.Seasons)
	if f.RMSE > given+1e-9 || f.LeftOut < f.RMSE {
		t.Errorf("%s: fitted %.3f d, left out %.3f d, a given need does %.3f d", name, f.RMSE, f.LeftOut, given)
	}
	return f
}

func TestAFewSeasonsOfTheCherriesAreHonestlyJudged(t *testing.T) {
	seasons := cherrySeasons(t)
	won := 0
	const span = 6
	for i := 0; i+span <= len(seasons); i++ {
		f, err := FitForcing(seasons[i:i+span], DegreesAbove(4), 31)
		if err != nil {
			t.Fatal(err)
		}
		if f.BeatsMeanDate() {
			won++
		}
	}
	runs := len(seasons) - span + 1
	t.Logf("with %d seasons the forcing sum beats the mean date in %d of %d runs", span, won, runs)
	if won*2 < runs {
		t.Errorf("only %d of %d", won, runs)
	}
}

func TestAFitRecoversTheNeedThatMadeTheSeasons(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		need := rapid.Float64Range(60, 300).Draw(t, "need")
		model := ThermalTime{DegreesAbove(5), 10, need}
		var seasons []SeasonRecord
		for range rapid.IntRange(2, 8).Draw(t, "seasons") {
			shift := rapid.Float64Range(-3, 3).Draw(t, "shift")
			means := make([]float64, 240)
			for d := range means {
				means[d] = shift + 12 - 9*math.Cos(2*math.Pi*float64(d)/365)
			}
			seen, ok := model.Day(means)
			if !ok {
				t.Fatal("no bloom")
			}
			seasons = append(seasons, SeasonRecord{means, seen})
		}
		f, err := FitForcing(seasons, model.Rate, model.From)
		if err != nil || f.RMSE != 0 {
			t.Errorf("need %v, seasons made by it are missed: %+v, %v", need, f, err)
		}
	})
}

func TestOneSeasonIsNotEnough(t *testing.T) {
	_, err := FitForcing([]SeasonRecord{{Means: make([]float64, 10), Seen: 3}}, DegreesAbove(5), 0)
	if !errors.Is(err, ErrFewSeasons) {
		t.Errorf("got %v", err)
	}
	if _, err := FitForcing(make([]SeasonRecord, 2), DegreesAbove(5), 0); err == nil {
		t.Error("seasons without a single mean were fitted")
	}
}

func TestShrinkageLeavesTheClassAsYearsCome(t *testing.T) {
	class := ForcingClass{Mean: 170, Between: 40, Within: 20}
	none := Shrink(nil, class)
	if none.Mean != 170 || none.Unsure != 40 || none.Spread() != math.Hypot(40, 20) {
		t.Errorf("without own years the class speaks: got %+v", none)
	}
	last := none
	for years := 1; years <= 10; years++ {
		own := make([]float64, years)
		for i := range own {
			own[i] = 230
		}
		n := Shrink(own, class)
		if !(n.Mean > last.Mean && n.Mean < 230 && n.Unsure < last.Unsure) {
			t.Errorf("%d years at 230: got %+v after %+v", years, n, last)
		}
		last = n
	}
	// Worked by hand: one year at 230 weighs 1600/(1600+400) = 0.8, so the mean is 0.8·230 + 0.2·170 = 218.
	if n := Shrink([]float64{230}, class); math.Abs(n.Mean-218) > 1e-9 || math.Abs(n.Unsure-math.Sqrt(320)) > 1e-9 {
		t.Errorf("one year at 230: got %+v", n)
	}
}
