package units

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// MilliCelsius is a temperature in thousandths of a degree Celsius.
type MilliCelsius int64

// PerMilleRH is relative humidity over water in thousandths (1000 = saturated).
type PerMilleRH int64

// PerMilleFull is pot water in thousandths of drained-full (1000 = watered through and drained an hour).
type PerMilleFull int64

// MicroVolt is an electric potential in millionths of a volt.
type MicroVolt int64

// Pascal is a pressure in pascal.
type Pascal int64

// Lux is an illuminance in lux.
type Lux int64

// MicroMetre is a depth (of rain) in thousandths of a millimetre.
type MicroMetre int64

// MillimetrePerSecond is a wind speed in thousandths of a metre a second.
type MillimetrePerSecond int64

// Celsius gives the temperature in degrees, for conclusions only.
func (t MilliCelsius) Celsius() float64 { return float64(t) / 1000 }

func (t MilliCelsius) String() string        { return Temperature.Format(int64(t)) }
func (h PerMilleRH) String() string          { return Humidity.Format(int64(h)) }
func (w PerMilleFull) String() string        { return Moisture.Format(int64(w)) }
func (v MicroVolt) String() string           { return Voltage.Format(int64(v)) }
func (p Pascal) String() string              { return Pressure.Format(int64(p)) }
func (l Lux) String() string                 { return Light.Format(int64(l)) }
func (d MicroMetre) String() string          { return Length.Format(int64(d)) }
func (s MillimetrePerSecond) String() string { return Speed.Format(int64(s)) }

// UnmarshalText reads "4.5 °C" or "40 °F"; a bare number is an error.
func (t *MilliCelsius) UnmarshalText(b []byte) error { return unmarshal(t, b, Temperature) }

// UnmarshalText reads "85 %RH".
func (h *PerMilleRH) UnmarshalText(b []byte) error { return unmarshal(h, b, Humidity) }

// UnmarshalText reads "20 %" or "200 ‰", of drained-full.
func (w *PerMilleFull) UnmarshalText(b []byte) error { return unmarshal(w, b, Moisture) }

// UnmarshalText reads "1.802 V" or "1802 mV".
func (v *MicroVolt) UnmarshalText(b []byte) error { return unmarshal(v, b, Voltage) }

// UnmarshalText reads "1013 hPa".
func (p *Pascal) UnmarshalText(b []byte) error { return unmarshal(p, b, Pressure) }

// UnmarshalText reads "400 lx".
func (l *Lux) UnmarshalText(b []byte) error { return unmarshal(l, b, Light) }

// UnmarshalText reads "3 mm".
func (d *MicroMetre) UnmarshalText(b []byte) error { return unmarshal(d, b, Length) }

// UnmarshalText reads "2 m/s".
func (s *MillimetrePerSecond) UnmarshalText(b []byte) error { return unmarshal(s, b, Speed) }

func unmarshal[T ~int64](dst *T, b []byte, u Unit) error {
	n, err := ParseAs(string(b), u)
	if err == nil {
		*dst = T(n)
	}
	return err
}

// Volume is a pot's or a dose's volume in millilitres. It parses "3 L" and "150 mL".
type Volume int64

func (v Volume) String() string {
	if v >= 1000 {
		return decimal(int64(v), 3) + " L"
	}
	return fmt.Sprint(int64(v)) + " mL"
}

// Litres gives the volume in litres, for conclusions only.
func (v Volume) Litres() float64 { return float64(v) / 1000 }

// UnmarshalText reads "3 L", "0.5 l" or "150 mL".
func (v *Volume) UnmarshalText(b []byte) error {
	t := strings.TrimSpace(string(b))
	for _, s := range []struct {
		suffix string
		digits int
	}{{"mL", 0}, {"ml", 0}, {"L", 3}, {"l", 3}} {
		if num, ok := strings.CutSuffix(t, s.suffix); ok {
			n, err := ParseDecimal(strings.TrimSpace(num), s.digits)
			*v = Volume(n)
			return err
		}
	}
	if _, err := ParseDecimal(t, 3); err == nil {
		return fmt.Errorf("%q: %w: write %q or %q", t, ErrBare, t+" L", t+" mL")
	}
	return fmt.Errorf("%q is not a volume: write it like \"3 L\" or \"150 mL\"", t)
}

// Span is a length of time in a configuration: "5min", "36 h", "3 d", "750 ms". A bare number is refused.
type Span time.Duration

// Duration gives the span as the standard library has it.
func (s Span) Duration() time.Duration { return time.Duration(s) }

// String is the span as a configuration has it: "5 min", "36 h", "3 d".
func (s Span) String() string {
	for _, u := range []struct {
		name string
		unit time.Duration
		from time.Duration
	}{{"d", 24 * time.Hour, 48 * time.Hour}, {"h", time.Hour, time.Hour}, {"min", time.Minute, time.Minute}, {"s", time.Second, time.Second}, {"ms", time.Millisecond, 0}} {
		if d := time.Duration(s).Abs(); d >= u.from && d%u.unit == 0 {
			return fmt.Sprint(int64(time.Duration(s)/u.unit)) + " " + u.name
		}
	}
	return time.Duration(s).String()
}

// UnmarshalText reads a number and one of ms, s, min, h, d.
func (s *Span) UnmarshalText(b []byte) error {
	t := strings.TrimSpace(string(b))
	for _, u := range []struct {
		suffix string
		unit   time.Duration
	}{{"ms", time.Millisecond}, {"min", time.Minute}, {"s", time.Second}, {"h", time.Hour}, {"d", 24 * time.Hour}} {
		if num, ok := strings.CutSuffix(t, u.suffix); ok {
			n, err := ParseDecimal(strings.TrimSpace(num), 3)
			if err != nil {
				return err
			}
			step := int64(u.unit / 1000) // a thousandth of the unit first, so that 400 days do not overflow
			if n > math.MaxInt64/step || n < -math.MaxInt64/step {
				return fmt.Errorf("%q is longer than any clock counts: write it like \"5 min\", \"36 h\" or \"3 d\"", t)
			}
			*s = Span(n * step)
			return nil
		}
	}
	if _, err := ParseDecimal(t, 3); err == nil {
		return fmt.Errorf("%q: %w: write %q or %q", t, ErrBare, t+" min", t+" h")
	}
	return fmt.Errorf("%q is not a length of time: write it like \"5 min\", \"36 h\" or \"3 d\"", t)
}
