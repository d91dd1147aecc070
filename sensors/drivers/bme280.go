package drivers

import (
	"context"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// The BME280 and BMP280 are read in forced mode, one conversion a round: in continuous mode they warm themselves by 1 to 2 °C.
// Registers and times are those of the data sheets (BST-BME280-DS002, BST-BMP280-DS001).
func init() {
	add(Driver{
		Name: "bme280",
		Doc:  "BME280 on I2C: air temperature, humidity and pressure; a BMP280 gives no humidity.",
		Example: `[[probe]]
id = "site-pressure"
measures = "air-pressure"
place = "table"
[probe.bme280]
bus = 1
address = 0x76
`,
		Parse: parseBME280,
		Look:  lookBME280,
	})
}

func parseBME280(p garden.Probe) (Wish, error) {
	var of airChip
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if err := of.check(p, 0x76, 0x76, 0x77); err != nil {
		return Wish{}, err
	}
	if err := mustMeasure(p, "BME280", garden.AirTemperature, garden.AirHumidity, garden.AirPressure); err != nil {
		return Wish{}, err
	}
	of.measures = p.Measures
	return Wish{Probe: p.ID, Bus: of.bus(), Chip: of.chip(), Channel: p.Measures.String(), Open: openBME280, Of: of}, nil
}

func openBME280(env Env, wishes []Wish) (Source, error) {
	at := wishes[0].Of.(airChip)
	bus, err := at.lend(env)
	if err != nil {
		return nil, err
	}
	b := &bme280{dev: &i2c.Dev{Bus: bus, Addr: uint16(at.Address)}, env: env, at: at.i2cAt}
	return &chip[bmeCalibration]{wishes: wishes, make: b.calibration, ask: b.ask}, nil
}

// A bme280 is the chip and what was noticed about it over the rounds.
type bme280 struct {
	dev  *i2c.Dev
	env  Env
	at   i2cAt
	last uint16 // raw humidity
	same int    // rounds it has not moved
	told bool   // that there is no humidity
}

const (
	idBME280 = 0x60
	idBMP280 = 0x58
	// stuckAfter identical raw humidities, 0.008 % apart, the element is not measuring.
	stuckAfter = 20
)

// ask reads the identity, then one conversion: a chip may be swapped or lose its supply between rounds.
func (b *bme280) ask(ctx context.Context, cal bmeCalibration, wishes []Wish) []answer {
	id, err := b.register(0xD0)
	if err == nil && id != cal.id {
		err = garbled("the chip's identity reads %#02x, it was %#02x", id, cal.id)
	}
	if err != nil {
		return amiss(len(wishes), err)
	}
	raw, err := b.convert(ctx, id)
	if err != nil {
		return amiss(len(wishes), err)
	}
	temp, pressure, humidity := cal.answers(raw)
	if id == idBME280 && b.stuck(raw.hum) {
		humidity.suspect = true
		b.dev.Tx([]byte{0xE0, 0xB6}, nil) // reset; next round reads the calibration again
		defer func() { b.same = 0 }()
	}
	answers := make([]answer, len(wishes))
	for i, w := range wishes {
		switch w.Of.(airChip).measures {
		case garden.AirHumidity:
			answers[i] = humidity
		case garden.AirPressure:
			answers[i] = pressure
		default:
			answers[i] = temp
		}
	}
	return answers
}

func (b *bme280) stuck(hum uint16) bool {
	if hum == b.last {
		b.same++
	} else {
		b.same = 0
	}
	b.last = hum
	return b.same >= stuckAfter
}

// calibration reads who the chip is and its trimming words.
func (b *bme280) calibration(context.Context) (bmeCalibration, error) {
	var none bmeCalibration
	id, err := b.register(0xD0)
	if err != nil {
		return none, err
	}
	if id != idBME280 && id != idBMP280 {
		return none, garbled("the chip's identity reads %#02x: neither a BME280 nor a BMP280", id)
	}
	var low [26]byte
	if err := b.twice(0x88, low[:]); err != nil {
		return none, err
	}
	var high [7]byte
	if id == idBME280 {
		if err := b.twice(0xE1, high[:]); err != nil {
			return none, err
		}
	} else if !b.told {
		b.told = true
		b.env.notice(b.at.bus(), "the chip at %s is a BMP280: it has no humidity element", b.at.chip())
	}
	cal := trimming(id, low, high)
	if cal.t1 == 0 || cal.t1 == 0xFFFF || cal.p1 == 0 || cal.p1 == 0xFFFF {
		return none, garbled("calibration words are blank")
	}
	return cal, nil
}

// convert forces one conversion and reads its block. A status that never clears is a half-dead chip, not a slow one.
func (b *bme280) convert(ctx context.Context, id byte) (bmeRaw, error) {
	if id == idBME280 {
		// Humidity sampling is switched on each time: a reset in between has switched it off.
		if err := b.dev.Tx([]byte{0xF2, 0x01}, nil); err != nil {
			return bmeRaw{}, err
		}
	}
	if err := b.dev.Tx([]byte{0xF4, 1<<5 | 1<<2 | 1}, nil); err != nil { // once each, forced
		return bmeRaw{}, err
	}
	if err := b.wait(ctx); err != nil {
		return bmeRaw{}, err
	}
	block := make([]byte, 6, 8)
	if id == idBME280 {
		block = block[:8]
	}
	if err := b.twice(0xF7, block); err != nil {
		return bmeRaw{}, err
	}
	return rawBME(block)
}

// bmeCap is how long a conversion may take: 9.3 ms at most by the data sheet for single sampling of all three.
const bmeCap = 50 * time.Millisecond

func (b *bme280) wait(ctx context.Context) error {
	const step = 5 * time.Millisecond
	for range bmeCap / step {
		if err := pause(ctx, step); err != nil {
			return err
		}
		status, err := b.register(0xF3)
		if err != nil {
			return err
		}
		if status&0x09 == 0 { // measuring, copying its trimming
			return nil
		}
	}
	return silent("still measuring after %s", bmeCap)
}

func (b *bme280) register(reg byte) (byte, error) {
	var v [1]byte
	err := b.dev.Tx([]byte{reg}, v[:])
	return v[0], err
}

// twice reads registers that stand still two times over: the chip has no checksum, and the two must be alike.
func (b *bme280) twice(reg byte, into []byte) error {
	again := make([]byte, len(into))
	if err := b.dev.Tx([]byte{reg}, into); err != nil {
		return err
	}
	if err := b.dev.Tx([]byte{reg}, again); err != nil {
		return err
	}
	if !slices.Equal(into, again) {
		return garbled("two reads of the same registers differ")
	}
	return nil
}

// A bmeRaw is one conversion as the chip counts it.
type bmeRaw struct {
	pressure, temp int32
	hum            uint16
	wet            bool // the block has a humidity word
}

// rawBME takes a block apart. A bus stuck low or high, or a bare chip, gives one byte over and over.
func rawBME(b []byte) (bmeRaw, error) {
	if !slices.ContainsFunc(b, func(x byte) bool { return x != b[0] }) && (b[0] == 0 || b[0] == 0xFF) {
		return bmeRaw{}, garbled("every byte of the answer is %#02x", b[0])
	}
	r := bmeRaw{
		pressure: int32(b[0])<<12 | int32(b[1])<<4 | int32(b[2])>>4,
		temp:     int32(b[3])<<12 | int32(b[4])<<4 | int32(b[5])>>4,
	}
	if len(b) == 8 {
		r.hum, r.wet = uint16(b[6])<<8|uint16(b[7]), true
	}
	return r, nil
}
