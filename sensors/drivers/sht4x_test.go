package drivers

import (
	"testing"

	"periph.io/x/conn/v3/physic"

	"lathwatch/sensors/checks"
)

func degrees(a answer, perPrinted float64) float64 {
	return float64(a.raw) * float64(a.step.Num) / float64(a.step.Den) / perPrinted
}

func TestHumidityChipFormulaeAreThoseOfTheDataSheets(t *testing.T) {
	var in struct{ S []uint16 }
	checks.Input(t, "se-sht-conv", &in)
	got := map[string][]float64{}
	for _, s := range in.S {
		uncut := sht4Humidity(s)
		uncut.raw = sht4Uncut(s)
		got["T"] = append(got["T"], degrees(shtTemperature(s), 1000))
		got["RH3"] = append(got["RH3"], degrees(sht3Humidity(s), 10))
		got["RH4_unclamped"] = append(got["RH4_unclamped"], degrees(uncut, 10))
	}
	checks.Is(t, "se-sht-conv", got)
}

func TestHumidityIsCutAtItsEnds(t *testing.T) {
	for _, c := range []struct {
		word uint16
		want int64
	}{{0, 0}, {3145, 0}, {0xFFFF, 1000}, {0xE148, 1000}} {
		a := sht4Humidity(c.word)
		if got := a.step.Of(a.raw); got != c.want {
			t.Errorf("word %d gives %d ‰, want %d", c.word, got, c.want)
		}
	}
}

// Every count must come back from the quantities the library has made of it.
func TestCountsComeBackFromTheLibrarysQuantities(t *testing.T) {
	for s := range 1 << 16 {
		f := float64(s) / 65535
		temp := 273_150_000_000 + int64((f*175-45)*1e9)
		if got := countT(physicT(temp)); int(got) != s {
			t.Fatalf("temperature count %d comes back as %d", s, got)
		}
		if got := countRH(physicRH(int64(f * 100 * 100_000))); int(got) != s {
			t.Fatalf("humidity count %d comes back as %d", s, got)
		}
	}
}

func physicT(nanokelvin int64) physic.Temperature { return physic.Temperature(nanokelvin) }
func physicRH(hundredthMilli int64) physic.RelativeHumidity {
	return physic.RelativeHumidity(hundredthMilli)
}
