package push

import (
	"strconv"
	"strings"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// senml maps our whole-number units to the unit names of RFC 8428, section 12.1: the unscaled ones, as the scaled ones of RFC
// 8798 may only be used in packs that ask for a newer version. shift is the number of decimal places between the two.
var senml = map[units.Unit]struct {
	name  string
	shift int
}{
	units.Temperature:  {"Cel", 3},
	units.Humidity:     {"%RH", 1},
	units.Moisture:     {"/", 3}, // ratio of drained-full; "%" is not recommended for new producers
	units.Voltage:      {"V", 6},
	units.Pressure:     {"Pa", 0},
	units.Light:        {"lx", 0},
	units.Length:       {"m", 6},
	units.Speed:        {"m/s", 3},
	units.Count:        {"count", 0},
	units.Conductivity: {"S/m", 4},
	units.Mass:         {"kg", 3},
	units.Charge:       {"%EL", 1},
	units.Ratio:        {"/", 6},
}

// Reading is one valid reading of a round as a SenML pack in JSON (RFC 8428, section 5): one record with name, unit, time in
// seconds since 1970 and the value, written exactly. ok is false for a suspect reading and for a unit that has no name.
func Reading(site string, r *sensors.Round, rd sensors.Reading) (payload []byte, ok bool) {
	u, known := senml[rd.Unit()]
	if !known || rd.Quality != sensors.Valid {
		return nil, false
	}
	var b strings.Builder
	b.WriteString(`[{"bn":"` + site + `:","n":"` + string(rd.Probe) + `","u":"` + u.name + `","t":`)
	b.WriteString(strconv.FormatInt(r.At.Unix(), 10))
	b.WriteString(`,"v":` + places(rd.Whole(), u.shift) + `}]`)
	return []byte(b.String()), true
}

// places writes n / 10^digits as a JSON number, exactly and without noughts at the end.
func places(n int64, digits int) string {
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	s := strconv.FormatInt(n, 10)
	if digits == 0 {
		return sign + s
	}
	if pad := digits + 1 - len(s); pad > 0 {
		s = strings.Repeat("0", pad) + s
	}
	whole, frac := s[:len(s)-digits], strings.TrimRight(s[len(s)-digits:], "0")
	if frac != "" {
		frac = "." + frac
	}
	if frac == "" && whole == "0" {
		sign = ""
	}
	return sign + whole + frac
}
