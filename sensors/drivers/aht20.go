package drivers

import (
	"context"
	"errors"

	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/aht20"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func init() {
	add(Driver{
		Name: "aht20",
		Doc:  "AHT20 on I2C: air temperature and humidity; its address is fixed.",
		Example: `[[probe]]
id = "shed-air"
measures = "air-temperature"
place = "shed"
[probe.aht20]
bus = 1
`,
		Parse: parseAHT20,
		Look:  lookAHT20,
	})
}

func parseAHT20(p garden.Probe) (Wish, error) {
	var of airChip
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if err := of.check(p, 0x38, 0x38, 0x38); err != nil {
		return Wish{}, err
	}
	if err := mustMeasure(p, "AHT20", garden.AirTemperature, garden.AirHumidity); err != nil {
		return Wish{}, err
	}
	of.measures = p.Measures
	return Wish{Probe: p.ID, Bus: of.bus(), Chip: of.chip(), Channel: p.Measures.String(), Open: openAHT20, Of: of}, nil
}

func openAHT20(env Env, wishes []Wish) (Source, error) {
	bus, err := wishes[0].Of.(airChip).lend(env)
	if err != nil {
		return nil, err
	}
	return &chip[*aht20.Dev]{
		wishes: wishes,
		make:   func(context.Context) (*aht20.Dev, error) { return aht20.NewI2C(bus, nil) },
		ask: func(_ context.Context, dev *aht20.Dev, wishes []Wish) []answer {
			var env physic.Env
			if err := dev.Sense(&env); err != nil {
				return amiss(len(wishes), ahtTrouble(err))
			}
			return airAnswers(wishes, ahtTemperature(env.Temperature), ahtHumidity(env.Humidity))
		},
	}, nil
}

func ahtTrouble(err error) error {
	if bad := (*aht20.DataCorruptionError)(nil); errors.As(err, &bad) {
		return garbled("checksum")
	}
	if late := (*aht20.ReadTimeoutError)(nil); errors.As(err, &late) {
		return silent("still measuring after %s", late.Timeout)
	}
	return err
}

// ahtTemperature gives the chip's own count S back: the data sheet has 200 °C S/2^20 - 50 °C, and 50 °C is 2^18 counts.
func ahtTemperature(t physic.Temperature) answer {
	s := nearest(int64(t-physic.ZeroCelsius)+50_000_000_000, 1<<14, 3_125_000_000)
	return answer{raw: s - 1<<18, step: units.Step{Unit: units.Temperature, Num: 3125, Den: 16384}}
}

// ahtHumidity gives the count back: 100 % S/2^20.
func ahtHumidity(h physic.RelativeHumidity) answer {
	s := nearest(int64(h), 1<<20, int64(100*physic.PercentRH))
	return answer{raw: s, step: units.Step{Unit: units.Humidity, Num: 125, Den: 131072}}
}
