package drivers

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// A trouble is why a chip or line gave no reading; an error that is none counts as silence.
type trouble struct {
	kind sensors.FaultKind
	why  string
}

func (t *trouble) Error() string { return t.why }

func garbled(format string, args ...any) error {
	return &trouble{sensors.Garbled, fmt.Sprintf(format, args...)}
}

func implausible(format string, args ...any) error {
	return &trouble{sensors.Implausible, fmt.Sprintf(format, args...)}
}

func silent(format string, args ...any) error {
	return &trouble{sensors.Silent, fmt.Sprintf(format, args...)}
}

// An answer is what a chip said for one wish.
type answer struct {
	raw     int64
	step    units.Step
	suspect bool
	err     error
}

// whole is an answer that already counts in the unit's whole numbers.
func whole(raw int64, u units.Unit) answer { return answer{raw: raw, step: units.Whole(u)} }

// amiss gives the same trouble for each of n wishes.
func amiss(n int, err error) []answer { return slices.Repeat([]answer{{err: err}}, n) }

// A chip is a Source that asks one device for all its wishes. Its object is made when first asked and made afresh after any
// failure: a sensor that lost its supply for a moment has also lost its settings.
type chip[D any] struct {
	wishes []Wish
	make   func(ctx context.Context) (D, error)
	ask    func(ctx context.Context, dev D, wishes []Wish) []answer
	drop   func(D) // may be nil

	dev  D
	made bool
}

// Poll asks the device once.
func (c *chip[D]) Poll(ctx context.Context) (readings []sensors.Reading, faults []sensors.Fault) {
	answers := c.answers(ctx)
	failed := false
	for i, w := range c.wishes {
		a := plausible(answers[i])
		if a.err != nil {
			failed = true
			faults = append(faults, faultOf(w.Probe, a.err))
			continue
		}
		q := sensors.Valid
		if a.suspect {
			q = sensors.Suspect
		}
		readings = append(readings, sensors.Reading{Probe: w.Probe, Raw: a.raw, Step: a.step, Quality: q})
	}
	if failed {
		c.forget()
	}
	return readings, faults
}

func (c *chip[D]) answers(ctx context.Context) []answer {
	if !c.made {
		dev, err := c.make(ctx)
		if err != nil {
			return amiss(len(c.wishes), err)
		}
		c.dev, c.made = dev, true
	}
	return c.ask(ctx, c.dev, c.wishes)
}

func (c *chip[D]) forget() {
	if c.made && c.drop != nil {
		c.drop(c.dev)
	}
	var none D
	c.dev, c.made = none, false
}

// Close lets the device go; the bus was lent and stays open.
func (c *chip[D]) Close() error {
	c.forget()
	return nil
}

func faultOf(id sensors.ProbeID, err error) sensors.Fault {
	f := sensors.Fault{Probe: id, Kind: sensors.Silent, Why: err.Error()}
	if t := (*trouble)(nil); errors.As(err, &t) {
		f.Kind = t.kind
	} else if errors.Is(err, context.DeadlineExceeded) {
		f.Why = "no answer in time"
	}
	return f
}

// plausible refuses temperatures no shaded garden has: below -45 °C and above +70 °C a chip is lying, whatever its data sheet
// allows (a zero kelvin, a sign-magnitude word read as two's complement).
func plausible(a answer) answer {
	if a.err != nil || a.step.Unit != units.Temperature {
		return a
	}
	if t := a.step.Of(a.raw); t < -45_000 || t > 70_000 {
		a.err = implausible("%s cannot be true here", units.MilliCelsius(t))
	}
	return a
}

// pause waits for d or until ctx ends.
func pause(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-t.C:
		return nil
	}
}

// i2cAt is where a chip sits, the part of a driver's table all I2C chips share.
type i2cAt struct {
	Bus     *int `toml:"bus" help:"the number in i2c-1; never guessed, since the lowest bus is often not the header's"`
	Address int  `toml:"address" help:"seven bits; the chip's usual one when missing"`
}

func (at i2cAt) bus() string  { return fmt.Sprintf("i2c-%d", *at.Bus) }
func (at i2cAt) chip() string { return fmt.Sprintf("i2c-%d 0x%02x", *at.Bus, at.Address) }

// check fills in the chip's usual address and refuses one it cannot be strapped to.
func (at *i2cAt) check(p garden.Probe, usual, low, high int) error {
	if at.Bus == nil {
		return p.Source.Errorf("bus", "write which bus the chip is on: bus = 1 for i2c-1")
	}
	if *at.Bus < 0 {
		return p.Source.Errorf("bus", "a bus number is 0 or more")
	}
	if at.Address == 0 {
		at.Address = usual
	}
	if at.Address < low || at.Address > high {
		if low == high {
			return p.Source.Errorf("address", "0x%02x: this chip answers at 0x%02x only", at.Address, low)
		}
		return p.Source.Errorf("address", "0x%02x: this chip answers between 0x%02x and 0x%02x", at.Address, low, high)
	}
	return nil
}

// lend borrows the chip's bus.
func (at i2cAt) lend(env Env) (i2c.Bus, error) {
	if env.I2C == nil {
		return nil, fmt.Errorf("opening %s: no I2C here", at.bus())
	}
	b, err := env.I2C(*at.Bus)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", at.bus(), err)
	}
	return b, nil
}

// mustMeasure refuses a probe whose chip has no such quantity.
func mustMeasure(p garden.Probe, chip string, can ...garden.Measures) error {
	if slices.Contains(can, p.Measures) {
		return nil
	}
	names := ""
	for i, m := range can {
		if i > 0 {
			names += ", "
		}
		names += m.String()
	}
	return p.Source.Errorf("", "the %s cannot measure %s; it measures %s", chip, p.Measures, names)
}

// notice tells the keeper when there is anyone to tell.
func (env Env) notice(bus, format string, args ...any) {
	if env.Notice != nil {
		env.Notice(bus, fmt.Sprintf(format, args...))
	}
}
