package drivers

import (
	"context"
	"encoding/json"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/tape"
	"lathwatch/sensors/units"
)

// FuzzW1Text: what passes has nine bytes whose checksum holds and a verdict of YES, and is what the data sheet makes of them.
func FuzzW1Text(f *testing.F) {
	f.Add("af ff 4b 46 7f ff 01 10 87 : crc=87 YES\naf ff 4b 46 7f ff 01 10 87 t=-5062\n", false)
	f.Add("00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n", false)
	f.Add("32 00 4b 46 ff ff 0c 10 f5 : crc=f5 YES\n32 00 4b 46 ff ff 0c 10 f5 t=25000\n", true)
	f.Add("-5062", false)
	f.Fuzz(func(t *testing.T, text string, old bool) {
		family := "28"
		if old {
			family = "10"
		}
		if a := parseW1Temperature(text, family); a.err == nil {
			m, err := units.ParseDecimal(text, 0)
			if err != nil || m == 85000 || m == 127937 || abs64(a.step.Of(a.raw)-m) > 32 {
				t.Errorf("%q is %d of %+v", text, a.raw, a.step)
			}
		}
		a := parseW1Slave(text, family)
		if a.err != nil {
			return
		}
		first, _, _ := strings.Cut(text, "\n")
		pad, ok := scratchpad(first)
		if !ok || crcOneWire(pad[:8]) != pad[8] || !strings.Contains(first, "YES") || pad == [9]byte{} {
			t.Fatalf("%q passed", text)
		}
		word := int64(int16(uint16(pad[1])<<8 | uint16(pad[0])))
		if !old && (a.raw > word || word-a.raw > 7 || word == 0x07FF || word == 0x0550 && pad[6] == 0x0C) {
			t.Errorf("%q is %d sixteenths", text, a.raw)
		}
	})
}

// FuzzIIOText: what passes is (raw + offset) x scale to within half a whole unit, by exact rational arithmetic.
func FuzzIIOText(f *testing.F) {
	f.Add("9611", "0", "0.187500000", uint8(0))
	f.Add("26214", "-15887.515151", "2.517700195", uint8(1))
	f.Add("-100", "6", "1e3", uint8(2))
	f.Add("101.325000", "", "NaN", uint8(3))
	kinds := []string{"voltage0", "temp", "humidityrelative", "pressure", "illuminance"}
	f.Fuzz(func(t *testing.T, raw, offset, scale string, which uint8) {
		k := iioKindOf(kinds[int(which)%len(kinds)])
		if a := k.processed(raw); a.err == nil {
			within(t, a, rat(t, raw), big.NewRat(k.num, k.den))
		}
		a := k.raw(raw, offset, scale)
		if a.err != nil {
			return
		}
		sum := new(big.Rat).Add(rat(t, raw), rat(t, offset))
		within(t, a, sum, new(big.Rat).Mul(rat(t, scale), big.NewRat(k.num, k.den)))
	})
}

func rat(t *testing.T, s string) *big.Rat {
	n, err := units.ParseDecimal(s, 9)
	if err != nil { // more digits before the point than that
		n, err = units.ParseDecimal(s, 0)
		if err != nil {
			t.Fatalf("%q passed for a number", s)
		}
		return big.NewRat(n, 1)
	}
	return big.NewRat(n, 1_000_000_000)
}

// within allows the rounding of the raw value to a whole count, as far as one count reaches, and half a whole unit.
func within(t *testing.T, a answer, n, worth *big.Rat) {
	t.Helper()
	if a.step.Num == 0 || a.step.Den <= 0 || !a.step.Unit.Known() {
		t.Fatalf("step %+v", a.step)
	}
	exact := new(big.Rat).Mul(n, worth)
	got := new(big.Rat).Mul(big.NewRat(a.raw, 1), big.NewRat(int64(a.step.Num), int64(a.step.Den)))
	off := exact.Sub(exact, got)
	one := new(big.Rat).Abs(worth) // the raw text may carry decimals; a count does not
	if one.Cmp(big.NewRat(1, 1)) < 0 {
		one = big.NewRat(1, 1)
	}
	if off.Abs(off).Cmp(one) > 0 {
		t.Errorf("%d of %+v is off by %s", a.raw, a.step, off.FloatString(6))
	}
}

// FuzzMQTTPayload: what passes for a field is valid JSON in which that very field is a number, and is that number.
func FuzzMQTTPayload(f *testing.F) {
	for _, s := range []string{`{"t":21.5}`, `{"t":nan}`, `{"t":null}`, `{"t":1,"t":2}`, `{"T":1}`, `12.5`, `NaN`, `0x1p4`, `1_000`, `{"t":1e2}`, `{"t":"4"}`, `[{"t":1}]`, ` {"t" : -0.0 } `} {
		f.Add([]byte(s))
	}
	step, err := perCount{units.Whole(units.Temperature)}.finer()
	if err != nil {
		f.Fatal(err)
	}
	field := mqttWish{mqttTable: mqttTable{Value: "t", Time: "at", Same: "id"}, step: step}
	plain := mqttWish{step: step}
	f.Fuzz(func(t *testing.T, b []byte) {
		p := readPayload(b)
		if raw, err := plain.value(p); err == nil {
			checkNumber(t, strings.TrimSpace(string(b)), raw)
		}
		if at, err := field.stamp(p); err == nil && at.Location() != time.UTC {
			t.Errorf("%q: a time in %v", b, at.Location())
		}
		_ = field.same(p)
		raw, err := field.value(p)
		if err != nil {
			return
		}
		var object map[string]json.RawMessage
		if !json.Valid(b) || json.Unmarshal(b, &object) != nil || object["t"] == nil {
			t.Fatalf("%q passed", b)
		}
		checkNumber(t, string(object["t"]), raw)
	})
}

func checkNumber(t *testing.T, text string, raw int64) {
	t.Helper()
	want, ok := new(big.Rat).SetString(text)
	if !ok || strings.ContainsAny(text, "_xXpP/") {
		t.Fatalf("%q passed for a number", text)
	}
	off := want.Sub(want, big.NewRat(raw, 10_000))
	if off.Abs(off).Cmp(big.NewRat(1, 20_000)) > 0 {
		t.Errorf("%q is %d ten-thousandths", text, raw)
	}
}

// FuzzCSV: a file read as it grows, broken anywhere, gives the same readings as read whole.
func FuzzCSV(f *testing.F) {
	f.Add("2000-01-01T00:00:00Z,a,1,Cel\n2000-01-01T00:00:00Z,a,2.0625,Cel\n", uint16(20))
	f.Add("2000-01-01T00:00:00Z,a,NaN,Cel\n1999-12-31T20:00:00Z,a,-0.5,Cel\nrest without an end", uint16(31))
	f.Add("\n\r\n,,,\n2000-01-01T00:00:00Z,\"a\",85,Cel\n", uint16(2))
	f.Fuzz(func(t *testing.T, text string, cut uint16) {
		if len(text) > 4000 {
			return
		}
		root := t.TempDir()
		var whole, parts []sensors.LateReading
		at := min(int(cut), len(text))
		synctest.Test(t, func(t *testing.T) { whole = readCSV(t, filepath.Join(root, "whole"), text) })
		synctest.Test(t, func(t *testing.T) { parts = readCSV(t, filepath.Join(root, "parts"), text[:at], text[at:]) })
		for _, l := range whole {
			if !slices.Contains(parts, l) {
				t.Errorf("cut at %d: %v is lost", at, l)
			}
		}
		for _, l := range parts { // two rows that contradict each other are both refused when seen together, not in two polls
			if !inALine(text, l) {
				t.Errorf("cut at %d: %v is made up", at, l)
			}
		}
	})
}

func inALine(text string, l sensors.LateReading) bool {
	for line := range strings.Lines(text) {
		rows, _, _ := tape.ReadReadings("line", strings.NewReader(fileHeader+"\n"+line))
		for _, r := range rows {
			if r.At.Equal(l.At) && r.Raw*1000 == l.Raw*int64(r.Step.Den) {
				return true
			}
		}
	}
	return false
}

// readCSV appends the parts, polling after each, and lists every row that passed. The clock stands an hour on, so that they
// are late, all but those of the last second.
func readCSV(t *testing.T, path string, parts ...string) []sensors.LateReading {
	t.Helper()
	w := Wish{Probe: "a", Of: fileTable{Path: path, Probe: "a"}, Every: time.Second}
	s, err := openFile(Env{Every: time.Second}, []Wish{w})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	time.Sleep(time.Hour)
	var got []sensors.LateReading
	for _, part := range append([]string{fileHeader + "\n"}, parts...) {
		if _, err := file.WriteString(part); err != nil {
			t.Fatal(err)
		}
		s.Poll(context.Background())
		for _, l := range s.(Latecomer).Late() {
			if !slices.Contains(got, l) {
				got = append(got, l)
			}
		}
	}
	return got
}
