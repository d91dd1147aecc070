package units

import (
	"encoding"
	"errors"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestANumberWithoutItsUnitDoesNotParse(t *testing.T) {
	for _, bare := range []string{"4.125", "-5", "0", "1802"} {
		if _, _, err := Parse(bare); !errors.Is(err, ErrBare) {
			t.Errorf("%q: %v", bare, err)
		}
	}
	for _, wrong := range []string{"", "V", "NaN °C", "Inf °C", "+Inf V", "0x10 V", "1_000 V", "4,5 °C", "1e3 V", "4.5.1 °C", "4.5 K", "--4 °C"} {
		if n, _, err := Parse(wrong); err == nil {
			t.Errorf("%q parsed as %d", wrong, n)
		}
	}
}

// Definitions: 0 °F = -17.7777... °C, 41 °F = 5 °C, -40 is -40 in both (the Fahrenheit scale).
func TestSpellingsOfOneQuantityAreOne(t *testing.T) {
	for text, want := range map[string]int64{"4.125°C": 4125, "41°F": 5000, "-40 °F": -40000, "0 °F": -17778, "−2.5 °C": -2500, "1.802V": 1_802_000,
		"1802 mV": 1_802_000, "20 %": 200, "200 ‰": 200, "85 %RH": 850, "101.3 kPa": 101_300, "1013 hPa": 101_300, "0.5 mm": 500, "2 m/s": 2000, "1.5 kg": 1500} {
		if n, _, err := Parse(text); err != nil || n != want {
			t.Errorf("%q is %d, %v; want %d", text, n, err, want)
		}
	}
}

func TestQuantitiesPassThroughTextWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(-200_000, 200_000).Draw(t, "n")
		same := func(v encoding.TextMarshaler, into encoding.TextUnmarshaler) {
			b, err := v.MarshalText()
			if err == nil {
				err = into.UnmarshalText(b)
			}
			if err != nil {
				t.Fatalf("%s: %v", b, err)
			}
		}
		var c MilliCelsius
		var w PerMilleFull
		var v MicroVolt
		var h PerMilleRH
		same(MilliCelsius(n), &c)
		same(PerMilleFull(n), &w)
		same(MicroVolt(n), &v)
		same(PerMilleRH(n), &h)
		if int64(c) != n || int64(w) != n || int64(v) != n || int64(h) != n {
			t.Fatalf("%d came back as %d, %d, %d, %d", n, c, w, v, h)
		}
		m := rapid.Int64Range(1, 100_000).Draw(t, "m")
		var l Volume
		same(Volume(m), &l)
		if int64(l) != m {
			t.Fatalf("%d mL came back as %d", m, l)
		}
		d := time.Duration(rapid.Int64Range(1, 10_000).Draw(t, "min")) * time.Minute
		var s Span
		same(Span(d), &s)
		if s.Duration() != d {
			t.Fatalf("%v came back as %v", d, s.Duration())
		}
	})
}

func TestAStepRoundsHalfAwayFromZero(t *testing.T) {
	step := Step{Temperature, 125, 2} // a sixteenth of a degree
	for raw, want := range map[int64]int64{0: 0, 1: 63, -1: -63, 16: 1000, -81: -5063, 344: 21500} {
		if got := step.Of(raw); got != want {
			t.Errorf("%d counts are %d m°C, want %d", raw, got, want)
		}
	}
}
