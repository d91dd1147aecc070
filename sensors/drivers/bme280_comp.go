package drivers

import "lathwatch/sensors/units"

// A bmeCalibration holds a chip's trimming words under their names in the data sheet's table of compensation parameters.
type bmeCalibration struct {
	id     byte
	t1     uint16
	t2, t3 int16
	p1     uint16
	p      [10]int16 // p[2]..p[9]
	h1, h3 uint8
	h2     int16
	h4, h5 int16 // 12 bits, signed
	h6     int8
}

// trimming unpacks registers 0x88..0xA1 and 0xE1..0xE7. h4 and h5 share a byte and are signed: without their sign a chip with
// a negative h5 reads 0 %.
func trimming(id byte, low [26]byte, high [7]byte) bmeCalibration {
	word := func(i int) uint16 { return uint16(low[i]) | uint16(low[i+1])<<8 }
	c := bmeCalibration{id: id, t1: word(0), t2: int16(word(2)), t3: int16(word(4)), p1: word(6), h1: low[25]}
	for n := 2; n <= 9; n++ {
		c.p[n] = int16(word(4 + 2*n))
	}
	c.h2 = int16(uint16(high[0]) | uint16(high[1])<<8)
	c.h3 = high[2]
	c.h4 = int16(int8(high[3]))<<4 | int16(high[4]&0x0F)
	c.h5 = int16(int8(high[5]))<<4 | int16(high[4]>>4)
	c.h6 = int8(high[6])
	return c
}

// What a conversion that was skipped leaves in the registers (data sheet, "skipped (output set to 0x80000)"): each passes for
// an ordinary value.
const (
	skipped20 = 0x80000
	skipped16 = 0x8000
)

// answers compensates one conversion: hundredths of a degree, 1/256 Pa and 1/1024 %, in whole numbers so that every processor
// agrees.
func (c bmeCalibration) answers(r bmeRaw) (temp, pressure, humidity answer) {
	if r.temp == skipped20 {
		err := implausible("the chip skipped its temperature")
		return answer{err: err}, answer{err: err}, answer{err: err}
	}
	fine := c.fine(r.temp)
	temp = answer{raw: int64(c.centi(fine)), step: units.Step{Unit: units.Temperature, Num: 10, Den: 1}}
	pressure = answer{err: implausible("the chip skipped its pressure")}
	if r.pressure != skipped20 {
		pressure = c.pressure(r.pressure, fine)
	}
	switch {
	case c.id != idBME280 || !r.wet:
		humidity.err = silent("this chip is a BMP280: it has no humidity element")
	case r.hum == skipped16:
		humidity.err = implausible("the chip skipped its humidity")
	default:
		humidity = answer{raw: c.humidity(r.hum, fine), step: units.Step{Unit: units.Humidity, Num: 5, Den: 512}}
	}
	return temp, pressure, humidity
}

// fine is the temperature in the unit that the other two formulae want: 5120ths of a degree.
func (c bmeCalibration) fine(adc int32) int32 {
	t1 := int32(c.t1)
	linear := (adc>>3 - t1<<1) * int32(c.t2) >> 11
	bend := adc>>4 - t1
	return linear + (bend*bend>>12)*int32(c.t3)>>14
}

// centi is the temperature in hundredths of a degree.
func (c bmeCalibration) centi(fine int32) int32 { return (fine*5 + 128) >> 8 }

// pressure is the 64-bit form of the data sheet, in 256ths of a pascal.
func (c bmeCalibration) pressure(adc, fine int32) answer {
	x := int64(fine) - 128000
	y := x*x*int64(c.p[6]) + (x*int64(c.p[5]))<<17 + int64(c.p[4])<<35
	x = (x*x*int64(c.p[3]))>>8 + (x*int64(c.p[2]))<<12
	x = (1<<47 + x) * int64(c.p1) >> 33
	if x == 0 {
		return answer{err: garbled("calibration words give no pressure")}
	}
	v := ((int64(1048576-adc)<<31 - y) * 3125) / x
	square := (int64(c.p[9]) * (v >> 13) * (v >> 13)) >> 25
	line := (int64(c.p[8]) * v) >> 19
	v = (v+square+line)>>8 + int64(c.p[7])<<4
	if pa := v >> 8; pa < 30_000 || pa > 110_000 {
		return answer{err: implausible("%s is outside what the chip can measure", units.Pascal(pa))}
	}
	return answer{raw: v, step: units.Step{Unit: units.Pressure, Num: 1, Den: 256}}
}

// humidity is the 32-bit form of the data sheet, in 1024ths of a per cent, cut at 0 and 100 %.
func (c bmeCalibration) humidity(adc uint16, fine int32) int64 {
	x := fine - 76800
	offset := (int32(adc)<<14 - int32(c.h4)<<20 - int32(c.h5)*x + 16384) >> 15
	warm := (x * int32(c.h6)) >> 10 * ((x*int32(c.h3))>>11 + 32768) >> 10
	slope := ((warm+2097152)*int32(c.h2) + 8192) >> 14
	v := offset * slope
	v -= ((v >> 15) * (v >> 15) >> 7) * int32(c.h1) >> 4
	return int64(min(max(v, 0), 419430400) >> 12)
}
