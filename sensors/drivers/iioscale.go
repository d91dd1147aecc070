package drivers

import (
	"math/big"
	"strings"

	"lathwatch/sensors/units"
)

// An iioKind is what the kernel's numbers of a channel mean: one of them is num/den whole units.
type iioKind struct {
	unit     units.Unit
	num, den int64
	digits   int // decimals of a processed value worth keeping
}

// iioKindOf: temperature in thousandths of a degree, humidity in thousandths of a per cent, voltage in millivolt, light in
// lux, and pressure, alone among them, in whole kilopascal (Linux, Documentation/ABI/testing/sysfs-bus-iio).
func iioKindOf(channel string) iioKind {
	switch {
	case strings.HasPrefix(channel, "humidity"):
		return iioKind{units.Humidity, 1, 100, 0}
	case strings.HasPrefix(channel, "pressure"):
		return iioKind{units.Pressure, 1000, 1, 3}
	case strings.HasPrefix(channel, "illuminance"):
		return iioKind{units.Light, 1, 1, 0}
	case strings.HasPrefix(channel, "voltage"):
		return iioKind{units.Voltage, 1000, 1, 3}
	}
	return iioKind{units.Temperature, 1, 1, 0}
}

// processed reads an _input value.
func (k iioKind) processed(text string) answer {
	den := k.den
	for range k.digits {
		den *= 10
	}
	step, err := lowestTerms(k.unit, k.num, den, 1)
	if err != nil {
		return answer{err: err}
	}
	return plainWhole(text, k.digits, step)
}

// raw reads a _raw value: (raw + offset) x scale. The count is kept where offset and scale are simple enough for a step; else
// the product is kept in whole units.
func (k iioKind) raw(text, offset, scale string) answer {
	n, err := units.ParseDecimal(scale, 9)
	if err != nil || n == 0 {
		return answer{err: garbled("scale %q is not a number", clip(scale))}
	}
	if step, err := lowestTerms(k.unit, n, 1_000_000_000*k.den, k.num); err == nil {
		return rawTimes(text, offset, step)
	}
	return k.product(text, offset, scale)
}

// rawTimes keeps the count, moved by the offset.
func rawTimes(text, offset string, step units.Step) answer {
	add, err := units.ParseDecimal(offset, 9)
	if err != nil {
		return answer{err: garbled("offset %q is not a number", clip(offset))}
	}
	a := plainWhole(text, 0, step)
	if a.err != nil {
		return a
	}
	if a.raw > 1<<40 || a.raw < -1<<40 {
		return answer{err: garbled("%q is far too large", clip(text))}
	}
	if add%1_000_000_000 == 0 {
		a.raw += add / 1_000_000_000
		return a
	}
	exact := new(big.Rat).Add(big.NewRat(a.raw, 1), big.NewRat(add, 1_000_000_000))
	return toWhole(exact.Mul(exact, big.NewRat(int64(step.Num), int64(step.Den))), step.Unit)
}

func (k iioKind) product(text, offset, scale string) answer {
	a := plainWhole(text, 0, units.Whole(k.unit))
	o, errO := units.ParseDecimal(offset, 9)
	s, errS := units.ParseDecimal(scale, 9)
	if a.err != nil || errO != nil || errS != nil {
		return answer{err: garbled("not numbers: %q, %q, %q", clip(text), clip(offset), clip(scale))}
	}
	exact := new(big.Rat).Add(big.NewRat(a.raw, 1), big.NewRat(o, 1_000_000_000))
	exact.Mul(exact, big.NewRat(s, 1_000_000_000))
	return toWhole(exact.Mul(exact, big.NewRat(k.num, k.den)), k.unit)
}

func toWhole(r *big.Rat, u units.Unit) answer {
	n, err := units.ParseDecimal(r.FloatString(0), 0)
	if err != nil {
		return answer{err: garbled("a value of %s is far too large", clip(r.FloatString(0)))}
	}
	return whole(n, u)
}
