package drivers

import (
	"context"
	"encoding/binary"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"lathwatch/sensors/units"
)

const (
	adsSamples = 5                     // the middle one is kept
	adsSpacing = 20 * time.Millisecond // one mains period
)

func openADS1115(env Env, wishes []Wish) (Source, error) {
	at := wishes[0].Of.(adsTable)
	bus, err := at.lend(env)
	if err != nil {
		return nil, err
	}
	return &chip[*adsChip]{
		wishes: wishes,
		make: func(context.Context) (*adsChip, error) {
			return &adsChip{dev: &i2c.Dev{Bus: bus, Addr: uint16(at.Address)}, channel: -1}, nil
		},
		ask: func(ctx context.Context, c *adsChip, wishes []Wish) []answer {
			supplies := map[[2]int]counted{} // by channel and range: probes share a supply
			answers := make([]answer, len(wishes))
			for i, w := range wishes {
				answers[i] = c.read(ctx, w.Of.(adsTable), supplies)
			}
			return answers
		},
	}, nil
}

// An adsChip is one chip read in single shots. The chip's own clock is 10 % off at worst, so its ready bit is asked instead of
// waiting a nominal time: a wait that is too short returns the channel before.
type adsChip struct {
	dev     *i2c.Dev
	channel int // of the last conversion
}

// counted is a channel's middle count, the spread of its samples, or why there is none.
type counted struct {
	mid, spread int64
	err         error
}

// read gives a probe's answer: counts, the ratio to its supply, or a thermistor's temperature.
func (c *adsChip) read(ctx context.Context, of adsTable, supplies map[[2]int]counted) answer {
	step := adsStep(of.rangeBits())
	v := c.sample(ctx, of, of.Channel)
	if v.err != nil {
		return answer{err: v.err}
	}
	volts := units.MicroVolt(step.Of(v.mid))
	switch {
	case of.OpenBelow != 0 && volts < of.OpenBelow:
		return answer{err: implausible("%s: the probe's wire is open", volts)}
	case of.ShortAbove != 0 && volts > of.ShortAbove:
		return answer{err: implausible("%s: the probe is shorted or unplugged", volts)}
	}
	a := answer{raw: v.mid, step: step, suspect: of.Noise != 0 && units.MicroVolt(step.Of(v.spread)) > of.Noise}
	if of.SupplyChannel == nil {
		return a
	}
	key := [2]int{*of.SupplyChannel, of.rangeBits()}
	supply, ok := supplies[key]
	if !ok {
		supply = c.sample(ctx, of, *of.SupplyChannel)
		supplies[key] = supply
	}
	if supply.err != nil {
		return answer{err: supply.err}
	}
	if s := units.MicroVolt(step.Of(supply.mid)); s < of.SupplyLow {
		return answer{err: implausible("the probe's supply is down to %s", s)}
	}
	if of.Thermistor != nil {
		return of.Thermistor.answer(v.mid, supply.mid)
	}
	a.raw, a.step = nearestSigned(v.mid*1_000_000, supply.mid), units.Whole(units.Ratio)
	return a
}

func nearestSigned(n, d int64) int64 {
	if n < 0 {
		return -nearest(-n, 1, d)
	}
	return nearest(n, 1, d)
}

// sample takes the middle of five conversions. The first after a change of channel is dropped: the input is still settling.
func (c *adsChip) sample(ctx context.Context, of adsTable, channel int) counted {
	if c.channel != channel {
		if _, err := c.convert(ctx, of, channel); err != nil {
			return counted{err: err}
		}
		c.channel = channel
	}
	var got []int64
	for i := range adsSamples {
		if i > 0 {
			if err := pause(ctx, adsSpacing); err != nil {
				return counted{err: err}
			}
		}
		n, err := c.convert(ctx, of, channel)
		if err != nil {
			return counted{err: err}
		}
		got = append(got, n)
	}
	slices.Sort(got)
	mid := got[adsSamples/2]
	if mid == 0x7FFF || mid == -0x8000 {
		return counted{err: implausible("the voltage is outside the range of %s", of.Range)}
	}
	return counted{mid: mid, spread: got[adsSamples-1] - got[0]}
}

// adsConfig is the settings word of one single conversion (data sheet, "Config register"): start, channel against ground,
// range, single-shot, rate, comparator off.
func adsConfig(of adsTable, channel int) uint16 {
	return 1<<15 | uint16(4+channel)<<12 | uint16(of.rangeBits())<<9 | 1<<8 | uint16(of.rateBits())<<5 | 3
}

// convert starts one conversion, polls the ready bit up to 1.3 nominal periods and reads the count.
func (c *adsChip) convert(ctx context.Context, of adsTable, channel int) (int64, error) {
	config := adsConfig(of, channel)
	if err := c.dev.Tx([]byte{0x01, byte(config >> 8), byte(config)}, nil); err != nil {
		return 0, err
	}
	if err := c.ready(ctx, config, of.Rate); err != nil {
		return 0, err
	}
	b, err := c.word(0x00)
	return int64(int16(b)), err
}

func (c *adsChip) ready(ctx context.Context, config uint16, rate int) error {
	nominal := time.Second / time.Duration(rate)
	limit := nominal * 13 / 10
	tick := max(nominal/10, time.Millisecond)
	waited := nominal * 9 / 10 // no chip is faster
	if err := pause(ctx, waited); err != nil {
		return err
	}
	for {
		got, err := c.word(0x01)
		if err != nil {
			return err
		}
		// All but the ready bit must be what was written, else another program moves the switch of this chip.
		if got&0x7FFF != config&0x7FFF {
			return garbled("the settings read %#04x, not %#04x: is another program using this chip?", got&0x7FFF, config&0x7FFF)
		}
		if got&0x8000 != 0 {
			return nil
		}
		if waited += tick; waited > limit {
			return silent("no conversion after %s", limit)
		}
		if err := pause(ctx, tick); err != nil {
			return err
		}
	}
}

func (c *adsChip) word(reg byte) (uint16, error) {
	var b [2]byte
	err := c.dev.Tx([]byte{reg}, b[:])
	return binary.BigEndian.Uint16(b[:]), err
}
