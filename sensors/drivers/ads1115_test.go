package drivers

import (
	"math"
	"testing"

	"lathwatch/sensors/checks"
	"lathwatch/sensors/units"
)

func TestOneCountIsWhatTheDataSheetSays(t *testing.T) {
	var in struct {
		FS []float64 `json:"FS_V"`
	}
	checks.Input(t, "se-ads1115", &in)
	var got []float64
	for _, v := range in.FS {
		of := adsTable{Range: units.MicroVolt(math.Round(v * 1e6))}
		s := adsStep(of.rangeBits())
		got = append(got, float64(s.Num)/float64(s.Den))
		if full := s.Of(1 << 15); full != int64(of.Range) {
			t.Errorf("2^15 counts make %d µV in the range of %s", full, of.Range)
		}
	}
	checks.Is(t, "se-ads1115", got)
}

func TestThermistorFollowsTheBetaEquation(t *testing.T) {
	var in struct {
		Beta float64   `json:"beta"`
		T    []float64 `json:"T_C"`
	}
	checks.Input(t, "se-ntc-beta", &in)
	var ohms []float64
	for _, want := range in.T {
		// The driver has the inverse: look for the resistance it reads as this temperature.
		low, high := 100.0, 1e6
		for range 200 {
			if mid := (low + high) / 2; betaCelsius(mid, 10_000, in.Beta) > want {
				low = mid
			} else {
				high = mid
			}
		}
		ohms = append(ohms, low)
	}
	checks.Is(t, "se-ntc-beta", ohms)
}

func TestThermistorFollowsSteinhartAndHart(t *testing.T) {
	var in struct{ R []float64 }
	checks.Input(t, "se-ntc-sh", &in)
	var got []float64
	for _, r := range in.R {
		got = append(got, curveCelsius(r, 1.129148e-3, 2.34125e-4, 8.76741e-8)) // coefficients from memory
	}
	checks.Is(t, "se-ntc-sh", got)
}

func TestSupplySideThermistorIsTheMirrorImage(t *testing.T) {
	ground := thermistor{R25: 10_000, Beta: 3950, Series: 10_000}
	supply := ground
	supply.Side = "supply"
	for mid := int64(500); mid < 26_000; mid += 500 {
		a, b := ground.answer(mid, 26_400), supply.answer(26_400-mid, 26_400)
		if a != b {
			t.Errorf("%d of 26400: %v below, %v above", mid, a, b)
		}
	}
}
