package review

import (
	"fmt"
	"math"
	"strings"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

func root(v float64) float64 { return math.Sqrt(math.Max(v, 0)) }

// nbsp keeps a number and its unit on one line.
const nbsp = "\u00a0"

// num writes a number with a true minus and no minus nought.
func num(v float64, digits int) string {
	s := fmt.Sprintf("%.*f", digits, v)
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		if strings.Trim(rest, "0.") == "" {
			return rest
		}
		return "−" + rest
	}
	return s
}

// deg writes m°C as the keeper reads temperatures.
func (w *Winter) deg(v int64) string {
	c := units.MilliCelsius(v).Celsius()
	if w.Fahrenheit {
		return num(c*9/5+32, 1) + nbsp + "°F"
	}
	return num(c, 1) + nbsp + "°C"
}

// diff writes a difference of temperatures in °C.
func (w *Winter) diff(c float64) string {
	if w.Fahrenheit {
		return num(c*9/5, 1) + nbsp + "°F"
	}
	return num(c, 1) + nbsp + "°C"
}

// on writes a date of the season without its year, or a dash.
func on(d garden.Date) string {
	if d == 0 {
		return "–"
	}
	_, m, n := d.Civil()
	return fmt.Sprintf("%d%s%s", n, nbsp, m.String()[:3])
}

// dated writes a date with its year.
func dated(d garden.Date) string {
	y, m, n := d.Civil()
	return fmt.Sprintf("%d%s%s%s%d", n, nbsp, m.String()[:3], nbsp, y)
}

// between writes an interval; both ends alike are one figure.
func between(v [2]float64, digits int) string {
	low, high := num(v[0], digits), num(v[1], digits)
	if low == high {
		return low
	}
	return low + " to " + high
}

func (p *Place) name() string {
	if p.Name != "" {
		return p.Name
	}
	return p.ID
}

// Title names the winter by the season it led to.
func (w *Winter) Title() string {
	y := w.Season
	if w.South {
		return fmt.Sprintf("The winter of %d at %s", y, w.Site)
	}
	return fmt.Sprintf("The winter of %d to %d at %s", y-1, y, w.Site)
}
