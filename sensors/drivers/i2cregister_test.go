package drivers

import (
	"encoding/binary"
	"strings"
	"testing"

	"lathwatch/sensors/units"
)

func TestWhatOneCountIsWorth(t *testing.T) {
	for _, c := range []struct {
		text string
		want units.Step
		why  string
	}{
		{text: "1 count", want: units.Step{Unit: units.Count, Num: 1, Den: 1}},
		{text: "0.1 °C", want: units.Step{Unit: units.Temperature, Num: 100, Den: 1}},
		{text: "1/16 °C", want: units.Step{Unit: units.Temperature, Num: 125, Den: 2}},
		{text: "0.0625 °C", want: units.Step{Unit: units.Temperature, Num: 125, Den: 2}},
		{text: "0.1 %RH", want: units.Step{Unit: units.Humidity, Num: 1, Den: 1}},
		{text: "2.5mV", want: units.Step{Unit: units.Voltage, Num: 2500, Den: 1}},
		{text: "-1 count", want: units.Step{Unit: units.Count, Num: -1, Den: 1}},
		{text: "0.001 counts", want: units.Step{Unit: units.Count, Num: 1, Den: 1000}},
		{text: "10 µS/cm", want: units.Step{Unit: units.Conductivity, Num: 10, Den: 1}},
		{text: "0.1", why: "a number needs its unit"},
		{text: "0.1 °F", why: "one count"},
		{text: "0 °C", why: "must be worth something"},
		{text: "1/0 °C", why: "must be worth something"},
		{text: "0,1 °C", why: "point"},
		{text: "1 stone", why: "one count"},
		{text: "°C", why: "decimal"},
		{text: "9999999 °C", why: "do not fit"},
	} {
		var got perCount
		err := got.UnmarshalText([]byte(c.text))
		switch {
		case c.why == "" && (err != nil || got.Step != c.want):
			t.Errorf("%q is %v (%v), want %v", c.text, got.Step, err, c.want)
		case c.why != "" && (err == nil || !strings.Contains(err.Error(), c.why)):
			t.Errorf("%q: want an error with %q, got %v and %v", c.text, c.why, err, got.Step)
		}
	}
}

func FuzzI2CRegisterDecode(f *testing.F) {
	f.Add([]byte{0x02, 0x64}, 0, 16, false, false)
	f.Add([]byte{0xaa, 0xbb, 0xaf, 0xff}, 2, 16, true, true)
	f.Add([]byte{0xff, 0xff, 0xff, 0xff}, 0, 32, false, true)
	f.Add([]byte{1}, 1, 8, false, false)
	f.Add([]byte{}, -1, 24, true, false)
	f.Fuzz(func(t *testing.T, b []byte, offset, width int, little, signed bool) {
		n := number{Offset: offset, Width: width, Endian: "big", Signed: signed, Count: perCount{units.Whole(units.Count)}}
		if little {
			n.Endian = "little"
		}
		if offset > 1<<20 || width > 32 || width < 0 || width%8 != 0 {
			return // refused when parsed
		}
		a := n.decode(b)
		if a.err != nil {
			if width > 0 && offset >= 0 && offset+width/8 <= len(b) {
				t.Errorf("%v of % x at %d", a.err, b, offset)
			}
			return
		}
		part := append([]byte(nil), b[offset:offset+width/8]...)
		if !little { // the standard library's reading, of a padded copy
			for i, j := 0, len(part)-1; i < j; i, j = i+1, j-1 {
				part[i], part[j] = part[j], part[i]
			}
		}
		want := int64(binary.LittleEndian.Uint64(append(part, make([]byte, 8-len(part))...)))
		if signed {
			want = want << (64 - width) >> (64 - width)
		}
		if a.raw != want {
			t.Errorf("% x at %d, %d bits: %d, want %d", b, offset, width, a.raw, want)
		}
	})
}
