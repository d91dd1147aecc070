package drivers

import (
	"fmt"
	"math"
	"strings"

	"lathwatch/sensors/units"
)

// A perCount is what one count of a probe with a scale of its own is worth: "0.1 °C", "1/16 °C", "2.5 mV", "1 count".
type perCount struct{ units.Step }

// UnmarshalText reads a decimal number or a fraction of whole numbers with its unit.
func (c *perCount) UnmarshalText(b []byte) error {
	text := strings.TrimSpace(string(b))
	cut := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("+-−.,/0123456789 ", r) })
	if cut < 0 {
		_, _, err := units.Parse(text)
		return err
	}
	number, unit := strings.TrimSpace(text[:cut]), text[cut:]
	one, u, err := units.Parse("1 " + unit)
	if err != nil || strings.HasPrefix(unit, "°F") {
		return fmt.Errorf("%q is not what one count is worth: write it like \"0.1 °C\" or \"1 count\"", text)
	}
	top, under, divided := strings.Cut(number, "/")
	num, err := units.ParseDecimal(strings.TrimSpace(top), 6)
	if err != nil {
		return err
	}
	den := int64(1_000_000)
	if divided {
		if den, err = units.ParseDecimal(strings.TrimSpace(under), 6); err != nil {
			return err
		}
	}
	if num == 0 || den <= 0 {
		return fmt.Errorf("%q: a count must be worth something", text)
	}
	c.Step, err = lowestTerms(u, num, den, one)
	if err != nil {
		return fmt.Errorf("%q: %w", text, err)
	}
	return nil
}

// lowestTerms is the step num*times/den in u.
func lowestTerms(u units.Unit, num, den, times int64) (units.Step, error) {
	g := gcd(num, den)
	num, den = num/g, den/g
	g = gcd(times, den)
	times, den = times/g, den/g
	if num > math.MaxInt32 || num < -math.MaxInt32 || times > math.MaxInt32 || den > math.MaxInt32 {
		return units.Step{}, fmt.Errorf("that many digits do not fit a step")
	}
	if num *= times; num > math.MaxInt32 || num < -math.MaxInt32 {
		return units.Step{}, fmt.Errorf("that many digits do not fit a step")
	}
	return units.Step{Unit: u, Num: int32(num), Den: int32(den)}, nil
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return max(a, -a, 1)
}

// decimals is how many digits behind the point are kept of a device that speaks in decimals rather than counts.
const decimals = 4

// finer is the step of a device's own number kept to so many decimals.
func (c perCount) finer() (units.Step, error) {
	return lowestTerms(c.Unit, int64(c.Num), int64(c.Den)*int64(math.Pow10(decimals)), 1)
}
