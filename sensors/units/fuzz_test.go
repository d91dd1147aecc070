package units_test

import (
	"math/big"
	"strings"
	"testing"
	"time"

	"lathwatch/sensors/units"
)

// exact reads a plain decimal by the standard library's rational numbers; nil when it is none.
func exact(s string) *big.Rat {
	s = strings.Replace(s, "−", "-", 1)
	if s == "" || strings.Trim(s, "0123456789.+-") != "" {
		return nil
	}
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		return nil
	}
	return r
}

// near reports whether whole is the exact value to within half of one.
func near(whole int64, exact *big.Rat) bool {
	off := new(big.Rat).Sub(exact, new(big.Rat).SetInt64(whole))
	return off.Abs(off).Cmp(big.NewRat(1, 2)) <= 0
}

// inUnit is the number of a text and its worth in whole units, written down once more from the SI prefixes.
func inUnit(s string) (*big.Rat, *big.Rat) {
	for _, u := range []struct {
		suffix   string
		num, den int64
	}{{"counts", 1, 1}, {"count", 1, 1}, {"µS/cm", 1, 1}, {"uS/cm", 1, 1}, {"mS/cm", 1000, 1}, {"m°C", 1, 1}, {"°C", 1000, 1}, {"Cel", 1000, 1}, {"%RH", 10, 1}, {"%EL", 10, 1},
		{"mm/s", 1, 1}, {"m/s", 1000, 1}, {"µV", 1, 1}, {"uV", 1, 1}, {"mV", 1000, 1}, {"hPa", 100, 1}, {"kPa", 1000, 1}, {"Pa", 1, 1}, {"klx", 1000, 1}, {"lux", 1, 1}, {"lx", 1, 1},
		{"mm", 1000, 1}, {"kg", 1000, 1}, {"cm", 10_000, 1}, {"‰", 1, 1}, {"%", 10, 1}, {"V", 1_000_000, 1}, {"g", 1, 1}} {
		if num, ok := strings.CutSuffix(s, u.suffix); ok {
			return exact(strings.TrimSpace(num)), big.NewRat(u.num, u.den)
		}
	}
	return nil, nil
}

// FuzzQuantity: what passes for a quantity is that decimal number to half a whole unit, and prints to a text that reads back as the
// same; volumes and lengths of time likewise.
func FuzzQuantity(f *testing.F) {
	for _, s := range []string{"4.125°C", "41 °F", "1.802 V", "20 %", "-0.0625 Cel", "−3 °C", "999999999999 mm", "1e3 V", "NaN °C", "0x10 counts", "1_000 g", "3 L", "150 mL", "0.5 l",
		"5 min", "36h", "3 d", "750 ms", "999999999999 d", ".5 %", "5. %", "1,5 °C", "+2 hPa"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		trimmed := strings.TrimSpace(s)
		if n, u, err := units.Parse(s); err == nil {
			number, worth := inUnit(trimmed)
			if fahr, ok := strings.CutSuffix(trimmed, "°F"); ok {
				number = exact(strings.TrimSpace(fahr))
				if number != nil { // written to a thousandth first
					number.Sub(number, big.NewRat(32, 1)).Mul(number, big.NewRat(5, 9))
				}
				worth = big.NewRat(1000, 1)
			}
			if number == nil || !u.Known() {
				t.Fatalf("%q passed as %d of %v", s, n, u)
			}
			off := new(big.Rat).Sub(number.Mul(number, worth), new(big.Rat).SetInt64(n))
			if off.Abs(off).Cmp(big.NewRat(8, 10)) > 0 { // Fahrenheit is rounded twice
				t.Errorf("%q is %d of %v, off by %s", s, n, u, off.FloatString(3))
			}
			if u != units.Ratio {
				if back, v, err := units.Parse(u.Format(n)); err != nil || back != n || v != u {
					t.Errorf("%q prints as %q, which reads as %d %v, %v", s, u.Format(n), back, v, err)
				}
			}
		}
		var v units.Volume
		if v.UnmarshalText([]byte(s)) == nil {
			num := strings.TrimSpace(strings.TrimRight(trimmed, "mlL"))
			if r := exact(num); r == nil || !near(int64(v), r) && !near(int64(v), r.Mul(r, big.NewRat(1000, 1))) {
				t.Errorf("%q is %d mL", s, v)
			}
			var again units.Volume
			if err := again.UnmarshalText([]byte(v.String())); err != nil || again != v {
				t.Errorf("%q prints as %q, which reads as %d, %v", s, v, again, err)
			}
		}
		span(t, s, trimmed)
	})
}

func span(t *testing.T, s, trimmed string) {
	var d units.Span
	if d.UnmarshalText([]byte(s)) != nil {
		return
	}
	unit := map[string]time.Duration{"ms": time.Millisecond, "min": time.Minute, "s": time.Second, "h": time.Hour, "d": 24 * time.Hour}
	num := strings.TrimRight(trimmed, "minshd")
	r := exact(strings.TrimSpace(num))
	if r == nil {
		t.Fatalf("%q passed as %v", s, d)
	}
	u := unit[trimmed[len(num):]]
	off := new(big.Rat).Sub(r.Mul(r, big.NewRat(int64(u), 1)), new(big.Rat).SetInt64(int64(d)))
	if off.Abs(off).Cmp(big.NewRat(int64(u), 2000)) > 0 { // thousandths of the unit written
		t.Errorf("%q is %v", s, time.Duration(d))
	}
	var again units.Span
	if d%units.Span(time.Millisecond) == 0 {
		if err := again.UnmarshalText([]byte(d.String())); err != nil || again != d {
			t.Errorf("%q prints as %q, which reads as %v, %v", s, d, again, err)
		}
	}
}
