package drivers

import (
	"context"
	"encoding/binary"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/mcp9808"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func init() {
	add(Driver{
		Name: "mcp9808",
		Doc:  "MCP9808 on I2C: temperature of air or of a pot, in sixteenths of a degree.",
		Example: `[[probe]]
id = "bench-air"
measures = "air-temperature"
place = "bench"
[probe.mcp9808]
bus = 1
address = 0x18
`,
		Parse: parseMCP9808,
		Look:  lookMCP9808,
	})
}

func parseMCP9808(p garden.Probe) (Wish, error) {
	var of i2cAt
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if err := of.check(p, 0x18, 0x18, 0x1F); err != nil {
		return Wish{}, err
	}
	if err := mustMeasure(p, "MCP9808", garden.AirTemperature, garden.PotTemperature); err != nil {
		return Wish{}, err
	}
	return Wish{Probe: p.ID, Bus: of.bus(), Chip: of.chip(), Channel: "its temperature", Open: openMCP9808, Of: of}, nil
}

func openMCP9808(env Env, wishes []Wish) (Source, error) {
	at := wishes[0].Of.(i2cAt)
	bus, err := at.lend(env)
	if err != nil {
		return nil, err
	}
	return &chip[*mcp9808.Dev]{
		wishes: wishes,
		make: func(ctx context.Context) (*mcp9808.Dev, error) {
			dev, err := mcp9808.New(bus, &mcp9808.Opts{Addr: at.Address, Res: mcp9808.Maximum})
			if err != nil {
				return nil, err
			}
			// Until the first conversion, of 250 ms, the register holds a nought that reads as 0 °C.
			return dev, pause(ctx, 300*time.Millisecond)
		},
		ask: func(_ context.Context, dev *mcp9808.Dev, wishes []Wish) []answer {
			if err := isMCP9808(&i2c.Dev{Bus: bus, Addr: uint16(at.Address)}); err != nil {
				return amiss(len(wishes), err)
			}
			return slices.Repeat([]answer{senseTwice(dev)}, len(wishes))
		},
	}, nil
}

// senseTwice reads two times in a row: without a checksum a damaged bit shows only in their difference, which is a count at
// most in so short a time.
func senseTwice(dev *mcp9808.Dev) answer {
	first, err := dev.SenseTemp()
	if err != nil {
		return answer{err: err}
	}
	second, err := dev.SenseTemp()
	if err != nil {
		return answer{err: err}
	}
	a, b := sixteenths(first), sixteenths(second)
	if d := a.raw - b.raw; d < -2 || d > 2 {
		return answer{err: garbled("two reads in a row differ: %s and %s", units.MilliCelsius(a.step.Of(a.raw)), units.MilliCelsius(b.step.Of(b.raw)))}
	}
	return b
}

// isMCP9808 reads the chip's fixed identity. The chip has no checksum, and a bus stuck low would read as 0 °C for ever.
func isMCP9808(dev *i2c.Dev) error {
	var b [2]byte
	if err := dev.Tx([]byte{0x06}, b[:]); err != nil {
		return err
	}
	if id := binary.BigEndian.Uint16(b[:]); id != 0x0054 {
		return garbled("the chip's identity reads %#04x, not 0x0054", id)
	}
	return nil
}

// sixteenths gives the chip's own counts back: 1/16 °C, exact in nanokelvin.
func sixteenths(t physic.Temperature) answer {
	const count = physic.Temperature(62_500_000)
	return answer{raw: int64((t - physic.ZeroCelsius) / count), step: units.Step{Unit: units.Temperature, Num: 125, Den: 2}}
}
