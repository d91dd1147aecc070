package drivers

import (
	"fmt"
	"testing"

	"lathwatch/sensors/checks"
)

// padText is the kernel's text for a temperature word: an ordinary scratchpad with its CRC.
func padText(word uint16, config byte) string {
	pad := []byte{byte(word), byte(word >> 8), 0x4B, 0x46, config, 0xFF, 0x10, 0x10}
	pad = append(pad, crcOneWire(pad))
	return fmt.Sprintf("% x : crc=%02x YES\n% x t=0\n", pad, pad[8], pad)
}

func TestThermometerWordsAreThoseOfTheDataSheet(t *testing.T) {
	var in struct {
		Words []string `json:"raw_hex"`
	}
	checks.Input(t, "se-ds18b20", &in)
	var got []float64
	for _, text := range in.Words {
		b := unhex(t, text)
		a := parseW1Slave(padText(uint16(b[0])<<8|uint16(b[1]), 0x7F), "28")
		if a.err != nil {
			t.Errorf("%s: %v", text, a.err)
		}
		got = append(got, float64(a.raw)*float64(a.step.Num)/float64(a.step.Den)/1000)
	}
	checks.Is(t, "se-ds18b20", got)
}

// The step is what the parser leaves of a word; the kernel does the waiting, so the conversion time here is only the data
// sheet's halving with each bit, from the resolution the parser read.
func TestThermometerResolutionsAreThoseOfTheDataSheet(t *testing.T) {
	var steps, times []float64
	for _, config := range []byte{0x1F, 0x3F, 0x5F, 0x7F} {
		for word := uint16(1); word <= 16; word++ {
			if a := parseW1Slave(padText(word, config), "28"); a.err == nil && a.raw > 0 {
				steps = append(steps, degrees(a, 1000))
				break
			}
		}
		times = append(times, 750/float64(int(1)<<(12-scratchBits(padText(1, config)))))
	}
	checks.Is(t, "se-ds18b20-res", map[string]any{"step_C": steps, "t_conv_ms": times})
}
