package units

import (
	"errors"
	"fmt"
	"strings"
)

// ErrBare is wrapped by the error for a number that came without its unit.
var ErrBare = errors.New("a number needs its unit")

// ParseDecimal reads a plain decimal number (optional sign, digits, at most one point, no exponent) as a whole number of
// 10^-digits, rounding half away from zero. It refuses NaN, Inf, hexadecimal, underscores, a decimal comma and anything over
// 15 digits before the point.
func ParseDecimal(s string, digits int) (int64, error) {
	neg := false
	t := s
	if t != "" && (t[0] == '+' || t[0] == '-') {
		neg, t = t[0] == '-', t[1:]
	} else if rest, ok := strings.CutPrefix(t, "−"); ok {
		neg, t = true, rest
	}
	whole, frac, point := strings.Cut(t, ".")
	if strings.Contains(t, ",") {
		return 0, fmt.Errorf("%q: write a decimal point, not a comma", s)
	}
	if (whole == "" && frac == "") || (point && frac == "" && whole == "") || !allDigits(whole) || !allDigits(frac) || len(whole) > 15-digits {
		return 0, fmt.Errorf("%q is not a plain decimal number", s)
	}
	n := int64(0)
	for _, c := range whole {
		n = n*10 + int64(c-'0')
	}
	for i := range digits {
		n *= 10
		if i < len(frac) {
			n += int64(frac[i] - '0')
		}
	}
	if len(frac) > digits && frac[digits] >= '5' {
		n++
	}
	if neg {
		n = -n
	}
	return n, nil
}

func allDigits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

// spelling is one way to write a unit: the suffix, its whole-number unit, and how a value in it becomes whole-number units.
type spelling struct {
	suffix string
	unit   Unit
	digits int  // decimal shift from this spelling to the whole-number unit
	fahr   bool // degrees Fahrenheit
}

// Longest suffix first, so that "mV" is not read as "V" after an m.
var spellings = []spelling{
	{"counts", Count, 0, false}, {"count", Count, 0, false}, {"µS/cm", Conductivity, 0, false}, {"uS/cm", Conductivity, 0, false},
	{"mS/cm", Conductivity, 3, false}, {"m°C", Temperature, 0, false}, {"°C", Temperature, 3, false}, {"Cel", Temperature, 3, false},
	{"°F", Temperature, 3, true}, {"%RH", Humidity, 1, false}, {"%EL", Charge, 1, false}, {"mm/s", Speed, 0, false}, {"m/s", Speed, 3, false},
	{"µV", Voltage, 0, false}, {"uV", Voltage, 0, false}, {"mV", Voltage, 3, false}, {"hPa", Pressure, 2, false}, {"kPa", Pressure, 3, false},
	{"Pa", Pressure, 0, false}, {"klx", Light, 3, false}, {"lux", Light, 0, false}, {"lx", Light, 0, false}, {"mm", Length, 3, false},
	{"kg", Mass, 3, false}, {"cm", Length, 4, false}, {"‰", Moisture, 0, false}, {"%", Moisture, 1, false}, {"V", Voltage, 6, false}, {"g", Mass, 0, false},
}

// Parse reads a number with its unit: "4.125°C", "41 °F", "1.802 V", "20 %". A bare number is refused with ErrBare.
func Parse(s string) (int64, Unit, error) {
	t := strings.TrimSpace(s)
	for _, sp := range spellings {
		num, ok := strings.CutSuffix(t, sp.suffix)
		if !ok {
			continue
		}
		n, err := ParseDecimal(strings.TrimSpace(num), sp.digits)
		if err != nil {
			return 0, None, err
		}
		if sp.fahr {
			n = roundDiv((n-32000)*5, 9)
		}
		return n, sp.unit, nil
	}
	if _, err := ParseDecimal(t, 6); err == nil {
		return 0, None, fmt.Errorf("%q: %w", s, ErrBare)
	}
	return 0, None, fmt.Errorf("%q is not a number with a unit", s)
}

// ParseAs reads a number that must be in (a spelling of) unit u.
func ParseAs(s string, u Unit) (int64, error) {
	n, got, err := Parse(s)
	if errors.Is(err, ErrBare) {
		return 0, fmt.Errorf("%w: write %s", err, quoteWith(s, u))
	}
	if err != nil {
		return 0, err
	}
	if got != u {
		return 0, fmt.Errorf("%q is in %s, wanted %s", s, got, u)
	}
	return n, nil
}

func quoteWith(s string, u Unit) string {
	return fmt.Sprintf("%q", strings.TrimSpace(s)+" "+u.String())
}

// roundDiv divides rounding half away from zero; d > 0.
func roundDiv(n, d int64) int64 {
	if n < 0 {
		return -((-n + d/2) / d)
	}
	return (n + d/2) / d
}
