package indices

import "lathwatch/sensors/units"

// The yardsticks of this file and of chill_dynamic.go were made for fruit trees. They stand beside the cold account for
// comparison, and serve who grows fruit trees in pots. All take one temperature an hour; class edges are compared in whole
// thousandths of a degree, because 7.2 °C reckoned from 44.96 °F in floating point lies above 7.2.

// ChillingHour reports whether an hour counts as a chilling hour: 0 to 7.2 °C (45 °F), both included (Bennett 1949, Weinberger
// 1950). Whether exactly 0 °C counts is not settled; here it does.
func ChillingHour(t units.MilliCelsius) bool { return 0 <= t && t <= 7200 }

// ChillingHourAboveZero is the other reading, with 0 °C itself left out.
func ChillingHourAboveZero(t units.MilliCelsius) bool { return 0 < t && t <= 7200 }

// ColdHour reports whether an hour lies at or below 5 °C. Frozen hours count as rest (common practice, no source).
func ColdHour(t units.MilliCelsius) bool { return t <= 5000 }

// utahEdges are the upper edges of the classes, not included but for the last one, and the classes' weights in half units. The
// printed table steps by 0.1 °C; a continuous reading belongs to the class until the next printed value.
var utahEdges = [...]struct {
	below units.MilliCelsius
	halfs int
}{{1500, 0}, {2500, 1}, {9200, 2}, {12500, 1}, {16000, 0}, {18001, -1}}

// UtahHalves is the weight of an hour in half chill units, −2 to 2 (Richardson, Seeley & Walker 1974). Whole halves so that a
// winter's sum is the same on every processor.
func UtahHalves(t units.MilliCelsius) int {
	for _, c := range utahEdges {
		if t < c.below {
			return c.halfs
		}
	}
	return -2
}

// Chill adds up one winter by every yardstick, an hour at a time. The zero value is the start of a winter. An hour without a
// reading is not given: the Dynamic Model then stands still and the counts lack it, so the share observed is Hours over the
// hours that went by.
type Chill struct {
	Hours         int // hours given
	Chilling      int // 0 to 7.2 °C, both included
	ChillingAbove int // above 0 to 7.2 °C
	Cold          int // at or below 5 °C
	utahHalves    int
	Dynamic       DynamicModel
}

// Hour adds one hour at temperature t.
func (c *Chill) Hour(t units.MilliCelsius) {
	c.Hours++
	if ChillingHour(t) {
		c.Chilling++
	}
	if ChillingHourAboveZero(t) {
		c.ChillingAbove++
	}
	if ColdHour(t) {
		c.Cold++
	}
	c.utahHalves += UtahHalves(t)
	c.Dynamic.Hour(t.Celsius())
}

// Utah is the sum in chill units. It can fall, and below 0, in warm spells.
func (c *Chill) Utah() float64 { return float64(c.utahHalves) / 2 }
