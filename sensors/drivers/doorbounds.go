package drivers

import (
	"fmt"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// bounds are what can be true of a probe in one unit.
type bounds struct {
	unit      units.Unit
	low, high int64
	open      bool // no bounds are known
	counts    bool // bare counts: the words a silent chip gives are no counts
}

func boundsOf(p garden.Probe, u units.Unit) bounds {
	b := bounds{unit: u, counts: u == units.Count && p.Measures == garden.PotMoisture}
	b.low, b.high, b.open = usualBounds(p.Measures, u)
	if p.Limits != nil {
		b.low, b.high, b.open = p.Limits.Low, p.Limits.High, false
	}
	return b
}

// usualBounds: a shaded garden's air and pots; electrical limits that tell an open or shorted lead; the rest what instruments
// of the kind can say at all. Common practice, no source; a probe's own limits replace them.
func usualBounds(m garden.Measures, u units.Unit) (low, high int64, open bool) {
	switch u {
	case units.Temperature:
		switch m {
		case garden.PotTemperature:
			return -35_000, 55_000, false
		case garden.ForecastMin:
			return -60_000, 45_000, false
		}
		return -45_000, 70_000, false
	case units.Humidity:
		return 20, 1050, false
	case units.Moisture:
		return -300, 1600, false
	case units.Voltage:
		if m == garden.PotMoisture {
			return 50_000, 5_200_000, false
		}
		return 300_000, 60_000_000, false
	case units.Pressure:
		return 50_000, 110_000, false
	case units.Light:
		return 0, 200_000, false
	case units.Length:
		return 0, mostRain, false
	case units.Speed:
		return 0, 80_000, false
	case units.Charge:
		return 0, 1000, false
	case units.Mass, units.Conductivity:
		return 0, 500_000, false
	}
	return 0, 0, true
}

// hold reports whether a value can be true.
func (b *bounds) hold(v int64) bool {
	return (b.open || v >= b.low && v <= b.high) && !(b.unit == units.Temperature && v <= absoluteZero) && !(b.counts && b.empty(v))
}

const absoluteZero = -273_000

// empty reports the words a chip gives that has nothing to say.
func (b *bounds) empty(v int64) bool { return v == 0xFFFF || v == 0x7FFF || v < 0 }

// impossible says why a value cannot be true.
func (b *bounds) impossible(v int64) string {
	switch {
	case b.unit == units.Temperature && v <= absoluteZero:
		return "zero kelvin, which stands for no reading"
	case b.counts && b.empty(v):
		return fmt.Sprintf("%d, which a chip says that has nothing to say", v)
	}
	return fmt.Sprintf("%s is not between %s and %s", b.unit.Format(v), b.unit.Number(b.low), b.unit.Format(b.high))
}
