package drivers

import (
	"context"
	"time"

	"periph.io/x/conn/v3/i2c"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// The SHT4x family answers a one-byte command with two words, each under its own CRC. The heater commands (0x39, 0x32, 0x2F,
// 0x24, 0x1E, 0x15) are never sent: a heated chip reads hot and dry for a minute.
func init() {
	add(Driver{
		Name: "sht4x",
		Doc:  "SHT40, SHT41 or SHT45 on I2C: air temperature and humidity.",
		Example: `[[probe]]
id = "table-air"
measures = "air-temperature"
place = "table"
[probe.sht4x]
bus = 1
address = 0x44
`,
		Parse: parseSHT4x,
		Look:  lookSHT4x,
	})
}

// airChip is the table of a chip that measures air, and which of its quantities the probe wants.
type airChip struct {
	i2cAt
	measures garden.Measures
}

func parseSHT4x(p garden.Probe) (Wish, error) {
	var of airChip
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if err := of.check(p, 0x44, 0x44, 0x46); err != nil {
		return Wish{}, err
	}
	if err := mustMeasure(p, "SHT4x", garden.AirTemperature, garden.AirHumidity); err != nil {
		return Wish{}, err
	}
	of.measures = p.Measures
	return Wish{Probe: p.ID, Bus: of.bus(), Chip: of.chip(), Channel: p.Measures.String(), Open: openSHT4x, Of: of}, nil
}

func openSHT4x(env Env, wishes []Wish) (Source, error) {
	at := wishes[0].Of.(airChip)
	bus, err := at.lend(env)
	if err != nil {
		return nil, err
	}
	dev := &i2c.Dev{Bus: bus, Addr: uint16(at.Address)}
	return &chip[*i2c.Dev]{
		wishes: wishes,
		make:   func(context.Context) (*i2c.Dev, error) { return dev, nil },
		ask: func(ctx context.Context, dev *i2c.Dev, wishes []Wish) []answer {
			temp, hum, err := readSHT4x(ctx, dev)
			if err != nil {
				return amiss(len(wishes), err)
			}
			return airAnswers(wishes, shtTemperature(temp), sht4Humidity(hum))
		},
	}, nil
}

// readSHT4x asks for one measurement of high repeatability, which takes 8.3 ms at most.
func readSHT4x(ctx context.Context, dev *i2c.Dev) (temp, hum uint16, err error) {
	if err := dev.Tx([]byte{0xFD}, nil); err != nil {
		return 0, 0, err
	}
	if err := pause(ctx, 10*time.Millisecond); err != nil {
		return 0, 0, err
	}
	var b [6]byte
	if err := dev.Tx(nil, b[:]); err != nil {
		return 0, 0, err
	}
	if crcHumidity(b[0:2]) != b[2] || crcHumidity(b[3:5]) != b[5] {
		return 0, 0, garbled("checksum of % x", b)
	}
	return uint16(b[0])<<8 | uint16(b[1]), uint16(b[3])<<8 | uint16(b[4]), nil
}

// airAnswers gives each wish its quantity.
func airAnswers(wishes []Wish, temp, hum answer) []answer {
	answers := make([]answer, len(wishes))
	for i, w := range wishes {
		if w.Of.(airChip).measures == garden.AirHumidity {
			answers[i] = hum
		} else {
			answers[i] = temp
		}
	}
	return answers
}

// shtTemperature keeps the chip's own count S. The data sheet gives -45 °C + 175 °C S/65535; a nought of -45 °C is 117963/7
// counts, so sevenths of a count carry it exactly.
func shtTemperature(s uint16) answer {
	return answer{raw: 7*int64(s) - 117963, step: units.Step{Unit: units.Temperature, Num: 5000, Den: 13107}}
}

// sht4Humidity keeps the chip's own count S in 25ths: the data sheet gives -6 % + 125 % S/65535, and asks for values beyond
// 0 and 100 % to be cut there.
func sht4Humidity(s uint16) answer {
	return answer{raw: min(max(sht4Uncut(s), 0), 1_310_700), step: units.Step{Unit: units.Humidity, Num: 10, Den: 13107}}
}

func sht4Uncut(s uint16) int64 { return 25*int64(s) - 78642 }

// sht3Humidity keeps the count S of the SHT3x and HDC302x families: 100 % S/65535.
func sht3Humidity(s uint16) answer {
	return answer{raw: int64(s), step: units.Step{Unit: units.Humidity, Num: 200, Den: 13107}}
}
