package drivers

import (
	"strconv"
	"strings"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// sixteenth is the count of the 12-bit thermometers, 1/16 °C (DS18B20 data sheet, "temperature/data relationship").
var sixteenth = units.Step{Unit: units.Temperature, Num: 125, Den: 2}

var errStarved error = &trouble{sensors.Implausible, "127.94 °C, which a probe without supply says"}

var errPowerOn error = &trouble{sensors.Implausible, "85 °C, the value at power-on"}

// parseW1Slave reads the kernel's two lines: nine scratchpad bytes with the kernel's verdict, and the same with t=. The t
// field counts for nothing unless the first line ends in YES: kernels print old or meaningless numbers after a NO.
func parseW1Slave(text, family string) answer {
	first, second, ok := strings.Cut(text, "\n")
	pad, okPad := scratchpad(first)
	if !ok || !okPad {
		return answer{err: garbled("not the kernel's two lines")}
	}
	if !strings.HasSuffix(strings.TrimSpace(first), "YES") || crcOneWire(pad[:]) != 0 {
		return answer{err: garbled("checksum")}
	}
	if pad == [9]byte{} { // nine noughts have a checksum of nought
		return answer{err: implausible("all noughts, as from a data wire at ground")}
	}
	word := int16(uint16(pad[1])<<8 | uint16(pad[0]))
	if family == "10" {
		return parseDS18S20(word, pad, second)
	}
	switch {
	case word == 0x0550 && pad[6] == 0x0C:
		return answer{err: errPowerOn}
	case word == 0x07FF:
		return answer{err: errStarved}
	}
	if bits := bitsOf(pad); bits != 0 { // bits below the resolution are undefined
		word &^= 1<<(12-bits) - 1
	}
	return answer{raw: int64(word), step: sixteenth}
}

// parseDS18S20 takes the kernel's own figure, which joins the half-degree register with the count that remains.
func parseDS18S20(word int16, pad [9]byte, second string) answer {
	if word == 0x00AA && pad[6] == 0x0C {
		return answer{err: errPowerOn}
	}
	_, t, ok := strings.Cut(second, "t=")
	if !ok {
		return answer{err: garbled("no t= in the second line")}
	}
	return parseW1Temperature(strings.TrimSpace(t), "10")
}

// parseW1Temperature reads bare thousandths of a degree. Without a scratchpad exactly 85000 cannot be told from power-on.
func parseW1Temperature(text, family string) answer {
	m, err := units.ParseDecimal(text, 0)
	if err != nil || strings.Contains(text, ".") {
		return answer{err: garbled("not thousandths of a degree")}
	}
	switch m {
	case 85000:
		return answer{err: errPowerOn}
	case 127937:
		return answer{err: errStarved}
	}
	if family == "10" {
		return whole(m, units.Temperature)
	}
	if m < -200_000 || m > 200_000 {
		return answer{err: implausible("%s cannot be true here", units.MilliCelsius(m))}
	}
	return answer{raw: units.Step{Num: 2, Den: 125}.Of(m), step: sixteenth} // the kernel cut the half thousandths off
}

func scratchpad(line string) (pad [9]byte, ok bool) {
	hex, _, ok := strings.Cut(line, ":")
	fields := strings.Fields(hex)
	if !ok || len(fields) != len(pad) {
		return pad, false
	}
	for i, f := range fields {
		n, err := strconv.ParseUint(f, 16, 8)
		if err != nil || len(f) != 2 {
			return pad, false
		}
		pad[i] = byte(n)
	}
	return pad, true
}

// scratchBits is the resolution in a w1_slave text; 0 when it does not say.
func scratchBits(text string) int {
	first, _, _ := strings.Cut(text, "\n")
	pad, ok := scratchpad(first)
	if !ok {
		return 0
	}
	return bitsOf(pad)
}

// bitsOf reads the configuration byte, 0 R1 R0 1 1 1 1 1 (DS18B20 data sheet, "configuration register"). Clones and the DS18S20
// have other things there: 0.
func bitsOf(pad [9]byte) int {
	if pad[4]&0x9F != 0x1F {
		return 0
	}
	return 9 + int(pad[4]>>5&3)
}
