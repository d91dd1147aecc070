package drivers

import (
	"encoding/hex"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors/checks"
)

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestCRCOfOneWireAgreesWithTheDataSheet(t *testing.T) {
	var check struct{ ASCII string }
	checks.Input(t, "se-crc8-check", &check)
	checks.Is(t, "se-crc8-check", crcOneWire([]byte(check.ASCII)))

	var rom struct {
		Hex string `json:"bytes_hex"`
	}
	checks.Input(t, "se-crc8-rom", &rom)
	b := unhex(t, rom.Hex)
	checks.Is(t, "se-crc8-rom", crcOneWire(b))
	if got := crcOneWire(append(b, crcOneWire(b))); got != 0 {
		t.Errorf("a code with its own CRC gives %#x, want 0", got)
	}

	var pads struct{ Hex []string }
	checks.Input(t, "se-crc8-scratch", &pads)
	var got []int
	for _, p := range pads.Hex {
		got = append(got, int(crcOneWire(unhex(t, p))))
	}
	checks.Is(t, "se-crc8-scratch", got)
}

func TestNineNoughtsPassTheOneWireCRC(t *testing.T) {
	if crcOneWire(make([]byte, 9)) != 0 {
		t.Error("if this fails, a line at ground would be caught by the CRC alone")
	}
}

func TestCRCOfHumidityChips(t *testing.T) {
	var in struct{ Hex string }
	checks.Input(t, "se-sht-crc", &in)
	checks.Is(t, "se-sht-crc", crcHumidity(unhex(t, in.Hex)))
	for word, want := range map[string]byte{"0000": 0x81, "FFFF": 0xAC, "6666": 0x93} { // recomputed, not published
		if got := crcHumidity(unhex(t, word)); got != want {
			t.Errorf("CRC(%s) = %#x, want %#x", word, got, want)
		}
	}
}

func TestCRCOfModbusFrames(t *testing.T) {
	var in struct{ Hex []string }
	checks.Input(t, "se-modbus-crc", &in)
	var got []int
	for _, f := range in.Hex {
		got = append(got, int(crcModbus(unhex(t, f))))
	}
	checks.Is(t, "se-modbus-crc", got)
}

func TestCRCOfSDI12Replies(t *testing.T) {
	var in struct{ Response []string }
	checks.Input(t, "se-sdi12-crc", &in)
	var got []string
	for _, r := range in.Response {
		got = append(got, crcSDI12(r))
	}
	checks.Is(t, "se-sdi12-crc", got)
	if diff := cmp.Diff("LzQ", crcSDI12("0+23.4-1.5+0.31")); diff != "" {
		t.Errorf("-want +got\n%s", diff)
	}
}
