package indices

import (
	"math"
	"testing"

	"lathwatch/sensors/checks"

	"pgregory.net/rapid"
)

func each(in []float64, f func(float64) float64) []float64 {
	out := make([]float64, len(in))
	for i, v := range in {
		out[i] = f(v)
	}
	return out
}

type temperatures struct {
	T []float64 `json:"T_C"`
}

func TestSaturationOverWaterFollowsFAO56(t *testing.T) {
	var in temperatures
	checks.Input(t, "psy-fao-t23-seen", &in)
	checks.Is(t, "psy-fao-t23-seen", each(in.T, SaturationFAO))
	in = temperatures{}
	checks.Input(t, "psy-fao-t23-rest", &in)
	checks.Is(t, "psy-fao-t23-rest", each(in.T, SaturationFAO))
}

func TestFAO56WorkedAirExamples(t *testing.T) {
	var ex3 DayAir
	checks.Input(t, "psy-fao-ex3", &ex3)
	checks.Is(t, "psy-fao-ex3", map[string]float64{
		"e_tmax": SaturationFAO(ex3.TMax), "e_tmin": SaturationFAO(ex3.TMin), "es": ex3.Saturation()})

	var ex2 struct {
		Z float64 `json:"z_m"`
	}
	checks.Input(t, "psy-fao-ex2", &ex2)
	p := PressureAt(ex2.Z)
	checks.Is(t, "psy-fao-ex2", map[string]float64{"P_kPa": p, "gamma": PsychrometricConstant(p)})

	var ex4 struct {
		Tdry, Twet float64
		Z          float64 `json:"z_m"`
		A          float64 `json:"a_psy"`
	}
	checks.Input(t, "psy-fao-ex4", &ex4)
	p = PressureAt(ex4.Z)
	checks.Is(t, "psy-fao-ex4", map[string]float64{
		"e_twet": SaturationFAO(ex4.Twet), "P_kPa": p, "ea": WetBulbVapour(ex4.Tdry, ex4.Twet, p, ex4.A)})
	if a, b := WetBulbVapour(ex4.Tdry, ex4.Twet, p, 0), WetBulbVapour(ex4.Tdry, ex4.Twet, p, ex4.A); a != b {
		t.Errorf("the ventilated coefficient is the default: got %v and %v", a, b)
	}

	var ex5 DayAir
	checks.Input(t, "psy-fao-ex5", &ex5)
	checks.Is(t, "psy-fao-ex5", map[string]float64{
		"e_tmin": SaturationFAO(ex5.TMin), "e_tmax": SaturationFAO(ex5.TMax), "ea": ex5.Vapour(), "ea_RHmean_eq19": ex5.VapourOfMeanRH()})
	checks.Is(t, "psy-fao-ex6", map[string]float64{"vpd_kPa": ex5.VPD()})
}

func TestSaturationFollowsWMONo8(t *testing.T) {
	var in temperatures
	checks.Input(t, "psy-wmo8-water", &in)
	checks.Is(t, "psy-wmo8-water", each(in.T, SaturationWater))
	in = temperatures{}
	checks.Input(t, "psy-wmo8-ice", &in)
	checks.Is(t, "psy-wmo8-ice", each(in.T, SaturationIce))
	var at struct {
		P float64 `json:"p_hPa"`
	}
	checks.Input(t, "psy-enhance", &at)
	checks.Is(t, "psy-enhance", Enhancement(at.P))
}

func TestDewAndFrostPointsInvertThem(t *testing.T) {
	var in struct {
		TRH [][2]float64 `json:"T_RH"`
	}
	checks.Input(t, "psy-dew-frost", &in)
	var got struct {
		Td []float64 `json:"td_C"`
		Tf []any     `json:"tf_C"`
	}
	for _, air := range in.TRH {
		td, _ := DewPoint(air[0], air[1])
		got.Td = append(got.Td, td)
		if tf, ok := FrostPoint(air[0], air[1]); ok {
			got.Tf = append(got.Tf, tf)
		} else {
			got.Tf = append(got.Tf, nil)
		}
	}
	checks.Is(t, "psy-dew-frost", got)

	var dew struct {
		Td []float64 `json:"td_C"`
	}
	checks.Input(t, "psy-dew-to-frost", &dew)
	checks.Is(t, "psy-dew-to-frost", each(dew.Td, FrostOfDew))
}

func TestDryAirHasNoDewPoint(t *testing.T) {
	for _, rh := range []float64{0, -1, math.NaN()} {
		if td, ok := DewPoint(10, rh); ok {
			t.Errorf("%v %%: got %v", rh, td)
		}
		if tf, ok := FrostPoint(-10, rh); ok {
			t.Errorf("%v %%: got %v", rh, tf)
		}
	}
}

// Figures of equation 11 worked by hand for the notes on drying.
func TestVPDOfOrdinaryAir(t *testing.T) {
	for _, tc := range []struct{ t, rh, want float64 }{{20, 60, 0.935}, {25, 50, 1.584}, {30, 35, 2.758}, {5, 85, 0.131}, {10, 103, 0}} {
		if got := VPD(tc.t, tc.rh); math.Abs(got-tc.want) > 0.0005 {
			t.Errorf("%v °C, %v %%: got %.4f kPa, expected %.3f", tc.t, tc.rh, got, tc.want)
		}
	}
}

func TestDewPointAndHumidityAgreeBothWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		air := rapid.Float64Range(-30, 45).Draw(t, "air")
		rh := rapid.Float64Range(1, 100).Draw(t, "rh")
		td, ok := DewPoint(air, rh)
		if back := HumidityOfDew(air, td); !ok || math.Abs(back-rh) > 1e-9*rh {
			t.Errorf("%v °C, %v %%: dew point %v gives %v %% back", air, rh, td, back)
		}
		if tf, ok := FrostPoint(air, rh); ok && (tf < td || tf > 0) {
			t.Errorf("%v °C, %v %%: frost point %v must lie between dew point %v and 0", air, rh, tf, td)
		}
	})
}
