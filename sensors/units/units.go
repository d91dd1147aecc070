package units

import (
	"fmt"
	"strings"
)

// A Unit names the whole-number base a quantity is counted in.
type Unit uint8

// The units a probe may speak. The zero Unit is no unit at all and is never valid.
const (
	None         Unit = iota
	Temperature       // thousandths of a degree Celsius
	Humidity          // thousandths of full relative humidity over water
	Moisture          // thousandths of drained-full
	Voltage           // microvolt
	Pressure          // pascal
	Light             // lux
	Length            // micrometre (rain depth)
	Speed             // millimetre a second (wind)
	Count             // bare counts of a probe with a scale of its own
	Conductivity      // microsiemens a centimetre
	Mass              // gram
	Charge            // thousandths of a full battery
	Ratio             // millionths (a voltage over its supply)
)

type unitInfo struct {
	name   string // as printed
	senml  string // name in readings.csv and SenML (RFC 8428, RFC 8798), empty where there is none
	digits int    // decimal digits between the printed and the whole-number unit
}

var info = [...]unitInfo{
	Temperature:  {"°C", "Cel", 3},
	Humidity:     {"%RH", "%RH", 1},
	Moisture:     {"%", "%", 1},
	Voltage:      {"V", "V", 6},
	Pressure:     {"hPa", "hPa", 2},
	Light:        {"lx", "lx", 0},
	Length:       {"mm", "mm", 3},
	Speed:        {"m/s", "m/s", 3},
	Count:        {"counts", "count", 0},
	Conductivity: {"µS/cm", "uS/cm", 0},
	Mass:         {"g", "g", 0},
	Charge:       {"%EL", "%EL", 1},
	Ratio:        {"/", "/", 6},
}

// Known reports whether u is one of the units above.
func (u Unit) Known() bool { return u > None && int(u) < len(info) }

// String is the unit as a person reads it.
func (u Unit) String() string {
	if !u.Known() {
		return "no unit"
	}
	return info[u].name
}

// SenML is the unit's name in readings.csv and SenML payloads (RFC 8428 section 12.1, RFC 8798).
func (u Unit) SenML() string {
	if !u.Known() {
		return ""
	}
	return info[u].senml
}

// Digits is how many decimal digits lie between the printed unit and the whole-number one (3 for °C and m°C).
func (u Unit) Digits() int {
	if !u.Known() {
		return 0
	}
	return info[u].digits
}

// FromSenML finds the unit of a SenML or readings.csv unit name.
func FromSenML(name string) (Unit, error) {
	for u := Temperature; u.Known(); u++ {
		if info[u].senml == name {
			return u, nil
		}
	}
	return None, fmt.Errorf("unknown unit %q: use one of %s", name, senmlNames())
}

func senmlNames() string {
	var names []string
	for u := Temperature; u.Known(); u++ {
		names = append(names, info[u].senml)
	}
	return strings.Join(names, ", ")
}

// Format prints n whole-number units of u in u's printed unit, without needless noughts: 4125 m°C is "4.125 °C".
func (u Unit) Format(n int64) string { return decimal(n, u.Digits()) + " " + u.String() }

// Number is Format without the unit, for columns whose header names it.
func (u Unit) Number(n int64) string { return decimal(n, u.Digits()) }

func decimal(n int64, digits int) string {
	if digits == 0 {
		return fmt.Sprint(n)
	}
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	s := fmt.Sprintf("%0*d", digits+1, n)
	whole, frac := s[:len(s)-digits], strings.TrimRight(s[len(s)-digits:], "0")
	if frac == "" {
		return sign + whole
	}
	return sign + whole + "." + frac
}
