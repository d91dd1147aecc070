package drivers

import (
	"fmt"
	"strings"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func init() {
	add(Driver{
		Name: "ads1115",
		Doc:  "ADS1115 on I2C: analogue moisture probes, thermistors and battery dividers, kept in the chip's own counts.",
		Example: `[[probe]]
id = "D7-moisture"
measures = "pot-moisture"
pot = "D7"
[probe.ads1115]
bus = 1
address = 0x48
channel = 0
range = "4.096 V"
open-below = "0.3 V"
short-above = "3.2 V"
`,
		Parse: parseADS1115,
		Look:  lookADS1115,
	})
}

// adsTable is one channel of the chip as garden.toml has it.
type adsTable struct {
	i2cAt
	Channel       int             `toml:"channel" help:"0 to 3, against ground"`
	Range         units.MicroVolt `toml:"range" help:"full scale"`
	Rate          int             `toml:"rate" help:"samples a second"`
	SupplyChannel *int            `toml:"supply-channel" help:"where the probe's supply is wired; the ratio to it is kept"`
	SupplyLow     units.MicroVolt `toml:"supply-low" help:"below it the supply has failed; a tenth of the range when missing"`
	OpenBelow     units.MicroVolt `toml:"open-below" help:"the voltage of a broken wire"`
	ShortAbove    units.MicroVolt `toml:"short-above" help:"the voltage of a shorted one"`
	Noise         units.MicroVolt `toml:"noise" help:"a wider spread of the five samples is suspect"`
	Thermistor    *thermistor     `toml:"thermistor" help:"turns the ratio into a temperature"`
}

// adsRanges are the full scales the chip has, in the order of its settings bits (data sheet, "Config register, PGA").
var adsRanges = []units.MicroVolt{6_144_000, 4_096_000, 2_048_000, 1_024_000, 512_000, 256_000}

// adsRates are its samples a second, in the order of its settings bits.
var adsRates = []int{8, 16, 32, 64, 128, 250, 475, 860}

// adsStep is what one count is worth in range n: 2^15 counts make full scale.
func adsStep(n int) units.Step {
	return [...]units.Step{
		{Unit: units.Voltage, Num: 375, Den: 2}, {Unit: units.Voltage, Num: 125, Den: 1}, {Unit: units.Voltage, Num: 125, Den: 2},
		{Unit: units.Voltage, Num: 125, Den: 4}, {Unit: units.Voltage, Num: 125, Den: 8}, {Unit: units.Voltage, Num: 125, Den: 16},
	}[n]
}

func parseADS1115(p garden.Probe) (Wish, error) {
	of := adsTable{Range: 4_096_000, Rate: 128}
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if err := of.check(p, 0x48, 0x48, 0x4B); err != nil {
		return Wish{}, err
	}
	if err := of.checkChannel(p); err != nil {
		return Wish{}, err
	}
	if err := of.checkUse(p); err != nil {
		return Wish{}, err
	}
	if of.SupplyLow == 0 {
		of.SupplyLow = of.Range / 10
	}
	return Wish{Probe: p.ID, Bus: of.bus(), Chip: of.chip(), Channel: fmt.Sprintf("channel %d", of.Channel),
		Settings: fmt.Sprintf("%d samples a second", of.Rate), Open: openADS1115, Of: of}, nil
}

func (of *adsTable) checkChannel(p garden.Probe) error {
	if of.Channel < 0 || of.Channel > 3 {
		return p.Source.Errorf("channel", "the chip has channels 0 to 3")
	}
	if s := of.SupplyChannel; s != nil && (*s < 0 || *s > 3 || *s == of.Channel) {
		return p.Source.Errorf("supply-channel", "write one of the other channels, 0 to 3")
	}
	if of.rangeBits() < 0 {
		return p.Source.Errorf("range", "the chip has ranges of %s", list(adsRanges))
	}
	if of.rateBits() < 0 {
		return p.Source.Errorf("rate", "the chip has rates of 8, 16, 32, 64, 128, 250, 475 and 860 samples a second")
	}
	if of.ShortAbove != 0 && of.ShortAbove <= of.OpenBelow {
		return p.Source.Errorf("short-above", "a short must lie above an open wire's %s", of.OpenBelow)
	}
	return nil
}

func (of *adsTable) checkUse(p garden.Probe) error {
	if of.Thermistor == nil {
		return mustMeasure(p, "ADS1115 without thermistor = {...}", garden.PotMoisture, garden.Battery, garden.Supply, garden.Light)
	}
	if of.SupplyChannel == nil {
		return p.Source.Errorf("supply-channel", "a thermistor is read against its supply: write the channel the supply is wired to")
	}
	if err := of.Thermistor.check(); err != nil {
		return p.Source.Errorf("thermistor", "%w", err)
	}
	return mustMeasure(p, "thermistor", garden.PotTemperature, garden.AirTemperature)
}

func (of *adsTable) rangeBits() int { return index(adsRanges, of.Range) }
func (of *adsTable) rateBits() int  { return index(adsRates, of.Rate) }

func index[T comparable](all []T, one T) int {
	for i, v := range all {
		if v == one {
			return i
		}
	}
	return -1
}

func list(vs []units.MicroVolt) string {
	var words []string
	for _, v := range vs {
		words = append(words, v.String())
	}
	return strings.Join(words, ", ")
}
