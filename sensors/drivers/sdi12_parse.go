package drivers

import (
	"strings"
	"time"

	"lathwatch/sensors/units"
)

// sdiReply checks what every answer has: printable characters only (a damaged parity bit arrives as nought or a high bit), the
// line ending, and the address asked. It gives what lies between.
func sdiReply(raw, address string) (string, error) {
	body, ended := strings.CutSuffix(raw, "\r\n")
	if !ended {
		return "", garbled("the answer breaks off: %q", raw)
	}
	for i := range len(body) {
		if body[i] < 0x20 || body[i] > 0x7E {
			return "", garbled("a damaged character in %q", raw)
		}
	}
	rest, ours := strings.CutPrefix(body, address)
	if !ours {
		return "", garbled("%q is not from sensor %s: do two answer at once?", raw, address)
	}
	return rest, nil
}

// sdiPromise reads what M or C promise, the part after the address: three digits of seconds and then the number of values, one
// digit for M, two for C (section 4.4).
func sdiPromise(rest, command string) (wait time.Duration, values int, err error) {
	digits := 4
	if command[0] == 'C' {
		digits = 5
	}
	if len(rest) != digits || strings.Trim(rest, "0123456789") != "" {
		return 0, 0, garbled("%q is no answer to %s", rest, command)
	}
	n := 0
	for _, c := range []byte(rest) {
		n = n*10 + int(c-'0')
	}
	split := 10
	if digits == 5 {
		split = 100
	}
	return time.Duration(n/split) * time.Second, n % split, nil
}

// sdiValues reads the values of a D answer in ten-thousandths. Each begins with its sign and has at most seven digits and one
// point (section 4.4.6.1). With a CRC the last three characters check address and values.
func sdiValues(rest, address string, crc bool) ([]int64, error) {
	if crc {
		cut := len(rest) - 3
		if cut < 0 || crcSDI12(address+rest[:cut]) != rest[cut:] {
			return nil, garbled("checksum of %q", rest)
		}
		rest = rest[:cut]
	}
	var values []int64
	for rest != "" {
		if rest[0] != '+' && rest[0] != '-' {
			return nil, garbled("a value without its sign in %q", rest)
		}
		end := strings.IndexAny(rest[1:], "+-") + 1
		if end == 0 {
			end = len(rest)
		}
		v, err := sdiValue(rest[:end])
		if err != nil {
			return nil, err
		}
		values, rest = append(values, v), rest[end:]
	}
	return values, nil
}

func sdiValue(text string) (int64, error) {
	digits := strings.Replace(text[1:], ".", "", 1)
	if digits == "" || len(digits) > 7 || strings.Trim(digits, "0123456789") != "" {
		return 0, garbled("%q is no value", text)
	}
	v, err := units.ParseDecimal(text, decimals)
	if err != nil {
		return 0, garbled("%q is no value", text)
	}
	return v, nil
}
