package drivers

import (
	"fmt"
	"math"
	"strings"

	"lathwatch/sensors/units"
)

// A thermistor of negative coefficient stands in a divider with a series resistor, and the ratio of its voltage to the supply
// gives its resistance: thermistor = { r25 = "10 kΩ", beta = 3950, series = "10 kΩ" }, or with the three coefficients of
// Steinhart and Hart in place of r25 and beta: curve = [1.129148e-3, 2.34125e-4, 8.76741e-8].
type thermistor struct {
	R25    ohms      `toml:"r25" help:"its resistance at 25 °C"`
	Beta   int       `toml:"beta" help:"from its data sheet, kelvin"`
	Curve  []float64 `toml:"curve" help:"instead of r25 and beta: the three coefficients of Steinhart and Hart, for ohm and kelvin"`
	Series ohms      `toml:"series" help:"the resistor in series with it"`
	Side   string    `toml:"side" help:"\"ground\" (when missing) or \"supply\": which end of the divider it is"`
}

func (th *thermistor) check() error {
	switch {
	case th.Series <= 0:
		return fmt.Errorf("write the resistor in series, like series = \"10 kΩ\"")
	case len(th.Curve) != 0 && (len(th.Curve) != 3 || th.R25 != 0 || th.Beta != 0):
		return fmt.Errorf("write r25 and beta, or the three coefficients of curve")
	case len(th.Curve) == 3 && (th.Curve[0] <= 0 || th.Curve[1] <= 0):
		return fmt.Errorf("the first two coefficients of curve are above nought")
	case len(th.Curve) == 3:
	case th.R25 <= 0:
		return fmt.Errorf("write its resistance at 25 °C, like r25 = \"10 kΩ\"")
	case th.Beta < 2000 || th.Beta > 6000:
		return fmt.Errorf("beta = %d: the data sheet's beta is between 2000 and 6000 kelvin", th.Beta)
	}
	if th.Side != "" && th.Side != "ground" && th.Side != "supply" {
		return fmt.Errorf("side = %q: write \"ground\" or \"supply\"", th.Side)
	}
	return nil
}

// answer turns counts of the probe and of its supply into a temperature. The curve is no straight line, so counts cannot be
// kept with a step; thousandths of a degree are finer than any count here.
func (th *thermistor) answer(mid, supply int64) answer {
	if mid <= 0 || mid >= supply {
		return answer{err: implausible("the thermistor is open or shorted")}
	}
	r := float64(th.Series) * float64(mid) / float64(supply-mid)
	if th.Side == "supply" {
		r = float64(th.Series) * float64(supply-mid) / float64(mid)
	}
	t := 0.0
	if len(th.Curve) == 3 {
		t = curveCelsius(r, th.Curve[0], th.Curve[1], th.Curve[2])
	} else {
		t = betaCelsius(r, float64(th.R25), float64(th.Beta))
	}
	return whole(int64(math.Round(1000*t)), units.Temperature)
}

// curveCelsius is 1/T = a + b ln r + c (ln r)^3 (Steinhart & Hart 1968, "Calibration curves for thermistors"); °C for ohm.
func curveCelsius(r, a, b, c float64) float64 {
	l := math.Log(r)
	return 1/(a+b*l+c*l*l*l) - 273.15
}

// betaCelsius is the beta equation: 1/T = 1/298.15 K + ln(r/r25)/beta; °C for r and r25 in ohm.
func betaCelsius(r, r25, beta float64) float64 {
	return 1/(1/298.15+math.Log(r/r25)/beta) - 273.15
}

// ohms is a resistance; it parses "10 kΩ", "4700 ohm", "10 kohm".
type ohms int64

func (o *ohms) UnmarshalText(b []byte) error {
	t := strings.TrimSpace(string(b))
	for _, u := range []struct {
		suffix string
		digits int
	}{{"kΩ", 3}, {"kohm", 3}, {"Ω", 0}, {"ohm", 0}} {
		if num, ok := strings.CutSuffix(t, u.suffix); ok {
			n, err := units.ParseDecimal(strings.TrimSpace(num), u.digits)
			*o = ohms(n)
			return err
		}
	}
	if _, err := units.ParseDecimal(t, 3); err == nil {
		return fmt.Errorf("%q: %w: write %q or %q", t, units.ErrBare, t+" kΩ", t+" Ω")
	}
	return fmt.Errorf("%q is not a resistance: write it like \"10 kΩ\"", t)
}
