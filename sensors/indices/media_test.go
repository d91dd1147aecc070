package indices

import (
	"encoding/csv"
	"math"
	"strconv"
	"testing"

	"lathwatch/sensors/checks"
)

func mapOf(in []float64, f func(float64) float64) []float64 {
	out := make([]float64, len(in))
	for i, x := range in {
		out[i] = f(x)
	}
	return out
}

func rounded(v float64, digits int) float64 {
	p := math.Pow10(digits)
	return math.Round(v*p) / p
}

func TestPermittivityAndWater(t *testing.T) {
	var topp struct{ Eps []float64 }
	checks.Input(t, "wa-topp", &topp)
	checks.Is(t, "wa-topp", mapOf(topp.Eps, ToppWater))
	var inv struct{ Theta []float64 }
	checks.Input(t, "wa-topp-inv", &inv)
	checks.Is(t, "wa-topp-inv", mapOf(inv.Theta, ToppPermittivity))
	checks.Is(t, "wa-mm25", WaterPermittivity(25))
	var temp struct{ T_C []float64 }
	checks.Input(t, "wa-mm-table", &temp)
	checks.Is(t, "wa-mm-table", mapOf(temp.T_C, WaterPermittivity))
	checks.Input(t, "wa-supercooled", &temp)
	checks.Is(t, "wa-supercooled", mapOf(temp.T_C, SupercooledPermittivity))
}

func TestAFreezingPotReadsDryWhileNoWaterLeaves(t *testing.T) {
	var in struct{ Theta, Frozen []float64 }
	checks.Input(t, "wa-freeze-crim", &in)
	var eps, read [][]float64
	for _, th := range in.Theta {
		e := mapOf(in.Frozen, func(f float64) float64 { return FrozenPermittivity(th, f) })
		eps = append(eps, mapOf(e, func(x float64) float64 { return rounded(x, 2) }))
		read = append(read, mapOf(e, func(x float64) float64 { return rounded(ToppWater(x), 3) }))
	}
	checks.Is(t, "wa-freeze-crim", map[string]any{"eps": eps, "topp_reading": read})
}

func TestFAO56WaterInTheRootZone(t *testing.T) {
	var in struct{ Fc, Wp, Zr, P float64 }
	got := func() map[string]float64 {
		taw, raw := AvailableWater(in.Fc, in.Wp, in.Zr, in.P)
		return map[string]float64{"TAW_mm": taw, "RAW_mm": raw}
	}
	checks.Input(t, "wa-fao36-loamy-sand", &in)
	checks.Is(t, "wa-fao36-loamy-sand", got())
	checks.Input(t, "wa-fao36-silt", &in)
	checks.Is(t, "wa-fao36-silt", got())
	checks.Input(t, "wa-fao36-silty-clay", &in)
	checks.Is(t, "wa-fao36-silty-clay", got())

	var p struct{ P22, ETc []float64 }
	checks.Input(t, "wa-fao-p", &p)
	var shares [][]float64
	for _, p22 := range p.P22 {
		shares = append(shares, mapOf(p.ETc, func(use float64) float64 { return DepletionShare(p22, use) }))
	}
	checks.Is(t, "wa-fao-p", shares)
}

func TestFAO56StressTable(t *testing.T) {
	var in struct {
		TAW, P, ETo, Kc, Dr0 float64
		Days                 int
	}
	checks.Input(t, "wa-fao37", &in)
	b := WaterBalance{TAW: in.TAW, P: in.P, Depletion: in.Dr0}
	var ks, dr []float64
	for range in.Days {
		ks = append(ks, b.Step(0, in.Kc*in.ETo))
		dr = append(dr, b.Depletion)
	}
	checks.Is(t, "wa-fao37", map[string]any{"Ks": ks, "Dr_end": dr})
	if b.Step(1000, 0); b.Depletion != 0 {
		t.Errorf("a flood leaves a depletion of %v mm", b.Depletion)
	}
}

// The same balance and the first-order pot tell one story once stress has set in: Ks falls in proportion to what is left.
func TestTheStressedBalanceIsFirstOrderInWaterLeft(t *testing.T) {
	b := WaterBalance{TAW: 160, P: 0.4, Depletion: 100}
	left := b.TAW - b.Depletion
	b.Step(0, 6)
	want := left * (1 - 6/(0.6*160))
	near(t, "left after a day", b.TAW-b.Depletion, want, 1e-9)
}

// A public network refuses to publish dielectric moisture from frozen soil.
func TestAPublicNetworkBlanksFrozenMoisture(t *testing.T) {
	rows, err := csv.NewReader(checks.Data(t, "uscrn_manhattan_ks_daily_2009_2017.csv")).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	col := map[string]int{}
	for i, name := range rows[0] {
		col[name] = i
	}
	frozen, withTheta := 0, 0
	for _, r := range rows[1:] {
		s, err := strconv.ParseFloat(r[col["soil5_c"]], 64)
		if err != nil || s >= 0 {
			continue
		}
		frozen++
		if r[col["theta5"]] != "" {
			withTheta++
		}
	}
	var in struct {
		Days int `json:"days_soil5_below_0"`
	}
	checks.Input(t, "wa-uscrn-mask", &in)
	if frozen != in.Days {
		t.Errorf("%d days below zero, %d in the source", frozen, in.Days)
	}
	checks.Is(t, "wa-uscrn-mask", map[string]int{"with_theta5": withTheta})
}

func TestMediaAddUp(t *testing.T) {
	got := map[string][]float64{}
	for _, m := range Media {
		got[m.Name] = []float64{m.Water, m.Porosity, m.Air, m.Wilting, m.Usable}
		near(t, m.Name+": water and air fill the pores", m.Water+m.Air, m.Porosity, 0.021)
		near(t, m.Name+": usable is what does not wilt", m.Water-m.Wilting, m.Usable, 0.021)
	}
	checks.Is(t, "wa-media-inorg", got)
	checks.Is(t, "wa-media-norm", map[string][]float64{
		"total_porosity": {UsualPorosity.Lo, UsualPorosity.Hi}, "air_space": {UsualAir.Lo, UsualAir.Hi},
		"container_capacity": {UsualCapacity.Lo, UsualCapacity.Hi}, "available": {UsualUsable.Lo, UsualUsable.Hi},
		"unavailable": {UsualUnusable.Lo, UsualUnusable.Hi},
	})
	for _, m := range Media {
		if UsualAir.Holds(m.Air) {
			t.Errorf("%s has no more air than a nursery mix", m.Name)
		}
	}
}

func TestAGrowingPotDriesAtAnEverydayRate(t *testing.T) {
	k, _, _ := NewDryDown(PotKind{Growth: true}).Rate()
	checks.Is(t, "wa-drydown-lit", map[string]float64{"tau_days_range": 1 / k})
}
