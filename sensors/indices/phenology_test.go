package indices

import (
	"testing"

	"lathwatch/sensors/checks"
)

func TestPublishedRatesOfDevelopment(t *testing.T) {
	var in temperatures
	checks.Input(t, "ph-logistic", &in)
	checks.Is(t, "ph-logistic", each(in.T, LogisticForcing))
	in = temperatures{}
	checks.Input(t, "ph-trichill", &in)
	checks.Is(t, "ph-trichill", each(in.T, TriangularChill))

	var uni struct {
		A, B, C, D, E float64
		T             []float64 `json:"T_C"`
	}
	checks.Input(t, "ph-unichill", &uni)
	checks.Is(t, "ph-unichill", map[string]any{
		"Rc": each(uni.T, UnifiedChill(uni.A, uni.B, uni.C)), "Rf": each(uni.T, UnifiedForcing(uni.D, uni.E))})

	var dts struct {
		T          []float64 `json:"T_C"`
		Activation float64   `json:"Ea_J_mol"`
	}
	checks.Input(t, "ph-dts", &dts)
	checks.Is(t, "ph-dts", each(dts.T, StandardDays(dts.Activation)))
}

func TestChillDaysInSixCases(t *testing.T) {
	var in struct {
		Days [][3]float64 `json:"Tn_Tx_Tb"`
	}
	checks.Input(t, "ph-chillday", &in)
	var got [][2]float64
	for _, d := range in.Days {
		chill, anti := ChillDay(d[0], d[1], d[2])
		got = append(got, [2]float64{chill, anti})
	}
	checks.Is(t, "ph-chillday", got)
	for _, steady := range []float64{-3, 0, 4, 7.2, 12} {
		chill, anti := ChillDay(steady, steady, 7.2)
		if chill != 0 || anti != max(steady-7.2, 0) {
			t.Errorf("a steady day at %v °C: got %v, %v", steady, chill, anti)
		}
	}
}

func TestModelsOverDailyMeans(t *testing.T) {
	cold, warm := 3.5, 12.0
	var means []float64
	for range 60 {
		means = append(means, cold)
	}
	for range 60 {
		means = append(means, warm)
	}
	force := DegreesAbove(5)
	rest := func(t float64) float64 {
		if t <= 5 {
			return 1
		}
		return 0
	}
	for _, tc := range []struct {
		name  string
		model interface{ Day([]float64) (int, bool) }
		day   int
		ok    bool
	}{
		{"thermal time: 70 degree-days at 7 a day", ThermalTime{force, 0, 70}, 69, true},
		{"thermal time from a later day", ThermalTime{force, 65, 70}, 74, true},
		{"thermal time that never comes", ThermalTime{force, 0, 1e6}, 0, false},
		{"sequential: rested in time, nothing lost", Sequential{rest, 0, 50, force, 70}, 69, true},
		{"sequential: never rested, never out", Sequential{rest, 0, 61, force, 70}, 0, false},
		{"parallel without a need of cold is thermal time", Parallel{rest, 0, 0, 0, force, 70}, 69, true},
		{"parallel, half the cold: twice as long", Parallel{rest, 0, 120, 0, force, 70}, 79, true},
		{"parallel, half the cold, half the competence: three quarters", Parallel{rest, 0, 120, 0.5, force, 70}, 73, true},
	} {
		day, ok := tc.model.Day(means)
		if day != tc.day || ok != tc.ok {
			t.Errorf("%s: got %d, %v; expected %d, %v", tc.name, day, ok, tc.day, tc.ok)
		}
	}
}
