package drivers

import (
	"context"
	"slices"

	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/bh1750"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func init() {
	add(Driver{
		Name: "bh1750",
		Doc:  "BH1750 on I2C: light, in whole lux.",
		Example: `[[probe]]
id = "table-light"
measures = "light"
place = "table"
[probe.bh1750]
bus = 1
address = 0x23
`,
		Parse: parseBH1750,
	})
}

func parseBH1750(p garden.Probe) (Wish, error) {
	var of i2cAt
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if err := of.check(p, 0x23, 0x23, 0x5C); err != nil {
		return Wish{}, err
	}
	if of.Address != 0x23 && of.Address != 0x5C {
		return Wish{}, p.Source.Errorf("address", "0x%02x: this chip answers at 0x23 or 0x5c", of.Address)
	}
	if err := mustMeasure(p, "BH1750", garden.Light); err != nil {
		return Wish{}, err
	}
	return Wish{Probe: p.ID, Bus: of.bus(), Chip: of.chip(), Channel: "its light", Open: openBH1750, Of: of}, nil
}

func openBH1750(env Env, wishes []Wish) (Source, error) {
	at := wishes[0].Of.(i2cAt)
	bus, err := at.lend(env)
	if err != nil {
		return nil, err
	}
	return &chip[*bh1750.Dev]{
		wishes: wishes,
		make:   func(context.Context) (*bh1750.Dev, error) { return bh1750.NewI2C(bus, uint16(at.Address)) },
		ask: func(_ context.Context, dev *bh1750.Dev, wishes []Wish) []answer {
			light, err := dev.Sense()
			if err != nil {
				return amiss(len(wishes), err)
			}
			return slices.Repeat([]answer{luxOf(light)}, len(wishes))
		},
	}, nil
}

// luxOf is whole lux: the library has already divided the count by 1.2 and cut it, so lux is the finest honest step. The chip
// has no checksum; a full count is a bus stuck high or a chip in full sun, and no light worth knowing in either case.
func luxOf(light physic.LuminousFlux) answer {
	const full = 54612 // 65535/1.2
	lux := int64(light / physic.Lumen)
	if lux >= full {
		return answer{err: implausible("the light count is at its end")}
	}
	return whole(lux, units.Light)
}
