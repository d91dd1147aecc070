package drivers

import (
	"context"
	"time"

	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/hdc302x"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

func init() {
	add(Driver{
		Name: "hdc302x",
		Doc:  "HDC3020, HDC3021 or HDC3022 on I2C: air temperature and humidity.",
		Example: `[[probe]]
id = "wall-humidity"
measures = "air-humidity"
place = "wall"
[probe.hdc302x]
bus = 1
address = 0x45
`,
		Parse: parseHDC302x,
		Look:  lookHDC302x,
	})
}

func parseHDC302x(p garden.Probe) (Wish, error) {
	var of airChip
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if err := of.check(p, 0x44, 0x44, 0x47); err != nil {
		return Wish{}, err
	}
	if err := mustMeasure(p, "HDC302x", garden.AirTemperature, garden.AirHumidity); err != nil {
		return Wish{}, err
	}
	of.measures = p.Measures
	return Wish{Probe: p.ID, Bus: of.bus(), Chip: of.chip(), Channel: p.Measures.String(), Open: openHDC302x, Of: of}, nil
}

func openHDC302x(env Env, wishes []Wish) (Source, error) {
	at := wishes[0].Of.(airChip)
	bus, err := at.lend(env)
	if err != nil {
		return nil, err
	}
	h := &hdcWatch{}
	return &chip[*hdc302x.Dev]{
		wishes: wishes,
		make: func(ctx context.Context) (*hdc302x.Dev, error) {
			// Starts the chip's own rhythm of one sample in two seconds and waits for the first.
			return hdc302x.NewI2C(bus, uint16(at.Address), hdc302x.RateHalfHertz)
		},
		ask: h.ask,
	}, nil
}

// hdcWatch remembers when the chip's heater was last seen on: another program may have switched it.
type hdcWatch struct{ hot time.Time }

// heaterCool is how long readings stay hot and dry after a heater pulse.
const heaterCool = time.Minute

func (h *hdcWatch) ask(_ context.Context, dev *hdc302x.Dev, wishes []Wish) []answer {
	env, err := senseHDC(dev)
	if err != nil {
		return amiss(len(wishes), err)
	}
	status, err := dev.ReadStatus()
	if err != nil {
		return amiss(len(wishes), err)
	}
	now := time.Now()
	if status&hdc302x.StatusHeaterEnabled != 0 {
		h.hot = now
	}
	if !h.hot.IsZero() && now.Sub(h.hot) <= heaterCool {
		return amiss(len(wishes), implausible("the chip's heater is on or was within a minute"))
	}
	return airAnswers(wishes, shtTemperature(countT(env.Temperature)), sht3Humidity(countRH(env.Humidity)))
}

// senseHDC reads into a fresh Env. After the sensor lost its supply every Sense fails until Halt has been called, which makes
// the next Sense start the rhythm again; this is the one use of Halt on the shelf.
func senseHDC(dev *hdc302x.Dev) (physic.Env, error) {
	var env physic.Env
	err := dev.Sense(&env)
	if err == nil {
		return env, nil
	}
	if err.Error() == "hdc302x: invalid crc" { // the library does not export it
		return env, garbled("checksum")
	}
	dev.Halt() // fails on a chip that is gone; Sense then says so
	env = physic.Env{}
	return env, dev.Sense(&env)
}

// countT finds the chip's count behind a temperature computed as -45 °C + 175 °C S/65535.
func countT(t physic.Temperature) uint16 {
	return uint16(nearest(int64(t-physic.ZeroCelsius)+45_000_000_000, 65535, 175_000_000_000))
}

// countRH finds the count behind a humidity computed as 100 % S/65535.
func countRH(h physic.RelativeHumidity) uint16 {
	return uint16(nearest(int64(h), 65535, int64(100*physic.PercentRH)))
}

// nearest is n*mul/div to the nearest whole number, for n >= 0.
func nearest(n, mul, div int64) int64 { return (n*mul + div/2) / div }
