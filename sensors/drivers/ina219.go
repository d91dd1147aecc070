package drivers

import (
	"context"
	"encoding/binary"
	"slices"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/ina219"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func init() {
	add(Driver{
		Name: "ina219",
		Doc:  "INA219 on I2C: voltage of a battery or supply, in steps of 4 mV.",
		Example: `[[probe]]
id = "shed-battery"
measures = "battery"
place = "shed"
[probe.ina219]
bus = 1
address = 0x40
`,
		Parse: parseINA219,
		Look:  lookINA219,
	})
}

func parseINA219(p garden.Probe) (Wish, error) {
	var of i2cAt
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if err := of.check(p, 0x40, 0x40, 0x4F); err != nil {
		return Wish{}, err
	}
	if err := mustMeasure(p, "INA219", garden.Battery, garden.Supply); err != nil {
		return Wish{}, err
	}
	return Wish{Probe: p.ID, Bus: of.bus(), Chip: of.chip(), Channel: "its voltage", Open: openINA219, Of: of}, nil
}

func openINA219(env Env, wishes []Wish) (Source, error) {
	at := wishes[0].Of.(i2cAt)
	bus, err := at.lend(env)
	if err != nil {
		return nil, err
	}
	return &chip[*ina219.Dev]{
		wishes: wishes,
		make: func(context.Context) (*ina219.Dev, error) {
			return ina219.New(bus, &ina219.Opts{Address: at.Address})
		},
		ask: func(_ context.Context, dev *ina219.Dev, wishes []Wish) []answer {
			if err := keptConfig(&i2c.Dev{Bus: bus, Addr: uint16(at.Address)}); err != nil {
				return amiss(len(wishes), err)
			}
			power, err := dev.Sense()
			if err != nil {
				return amiss(len(wishes), err)
			}
			return slices.Repeat([]answer{fourMillivolts(power.Voltage)}, len(wishes))
		},
	}, nil
}

// keptConfig reads back what was written at the start. The chip has neither checksum nor identity: a bus stuck low would read
// as an empty battery, and a chip that lost its supply has lost its settings.
func keptConfig(dev *i2c.Dev) error {
	var b [2]byte
	if err := dev.Tx([]byte{0x00}, b[:]); err != nil {
		return err
	}
	if got := binary.BigEndian.Uint16(b[:]); got != 0x1FFF {
		return garbled("the settings read %#04x, not 0x1fff", got)
	}
	return nil
}

func fourMillivolts(v physic.ElectricPotential) answer {
	return answer{raw: int64(v / (4 * physic.MilliVolt)), step: units.Step{Unit: units.Voltage, Num: 4000, Den: 1}}
}
