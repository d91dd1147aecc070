package drivers

import (
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/checks"
	"lathwatch/sensors/units"
)

const (
	airOnMCP = `[[probe]]
id = "bench-air"
measures = "air-temperature"
[probe.mcp9808]
bus = 1
`
	airOnBME = `[[probe]]
id = "bme-rh"
measures = "air-humidity"
[probe.bme280]
bus = 1
`
	potOnADS = `[[probe]]
id = "D7-m"
measures = "pot-moisture"
[probe.ads1115]
bus = 1
channel = 0
`
)

// TestFieldLogI2C replays failures that keepers of such buses have met, each as its smallest reproduction.
func TestFieldLogI2C(t *testing.T) {
	for _, row := range []struct {
		name string
		test func(*testing.T)
	}{
		{"B1_damaged_bytes_never_pass_for_readings", damagedBytes},
		{"B3_unplugged_chip_comes_back_as_a_fresh_object", unplugged},
		{"B5_one_owner_a_chip_and_open_inputs_are_no_readings", openInput},
		{"T1_busy_bit_that_never_clears", busyForEver},
		{"T2_humidity_that_does_not_move", stuckHumidity},
		{"T4_bus_stuck_low_or_high", stuckBus},
		{"T5_chip_sold_with_humidity_has_none", noHumidity},
		{"T8_forced_mode_keeps_the_chip_cool", forcedMode},
		{"T9_no_heater_is_ever_switched_on", noHeater},
		{"T10_sign_magnitude_frost", signMagnitude},
		{"T11_zero_kelvin_is_no_reading", zeroKelvin},
		{"T12_nothing_that_hangs_at_shutdown", noHalt},
		{"A1_slow_converter_returns_the_channel_before", slowConverter},
		{"A2_changed_scale_stays_raw_or_is_refused", changedScale},
		{"P1_P3_no_global_start_and_no_netlink", noGlobalStart},
	} {
		t.Run(row.name, row.test)
	}
}

// mcpChip answers like an MCP9808 at a temperature.
func mcpChip(sixteenths int) func(w, r []byte) {
	return func(w, r []byte) {
		switch {
		case len(r) != 2:
		case w[0] == 0x06:
			r[0], r[1] = 0x00, 0x54
		case w[0] == 0x05:
			r[0], r[1] = byte(sixteenths>>8)&0x1F, byte(sixteenths)
		}
	}
}

func damagedBytes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := mcpChip(-40) // -2.5 °C
		bus := &faultBus{tx: func(call int, _ uint16, w, r []byte) error {
			if chip(w, r); call%50 == 0 && len(r) > 0 {
				r[call/50%len(r)] ^= 0x80
			}
			return nil
		}}
		s := on(t, bus, Env{}, airOnMCP)
		heard, refused := 0, 0
		for range 400 {
			rs, fs := s.Poll(t.Context())
			for _, r := range rs {
				heard++
				if r.Whole() != -2500 {
					t.Errorf("a damaged byte was taken for %s", units.MilliCelsius(r.Whole()))
				}
			}
			for _, f := range fs {
				refused++
				if f.Kind != sensors.Garbled {
					t.Errorf("a damaged byte is %v: %s", f.Kind, f.Why)
				}
			}
		}
		if heard < 300 || refused < 10 {
			t.Errorf("%d readings and %d faults: damage should cost a few of 400", heard, refused)
		}
	})
}

func unplugged(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		chip := mcpChip(67)
		gone := false
		bus := &faultBus{tx: func(_ int, _ uint16, w, r []byte) error {
			if gone {
				return errGone
			}
			chip(w, r)
			return nil
		}}
		s := on(t, bus, Env{}, airOnMCP)
		if got := saysOf(t, s); got != "bench-air 4.188 °C" {
			t.Fatal(got)
		}
		gone = true
		for range 20 {
			if f := soleFault(t, s); f.Kind != sensors.Silent {
				t.Fatalf("unplugged is %v", f.Kind)
			}
		}
		gone = false
		before := len(bus.wrote)
		if got := saysOf(t, s); got != "bench-air 4.188 °C" {
			t.Errorf("plugged in again it says %q", got)
		}
		if !slices.ContainsFunc(bus.wrote[before:], func(w []byte) bool { return len(w) == 2 && w[0] == 0x08 }) {
			t.Error("the chip came back without being set up afresh")
		}
	})
}

// adsModel converts with its own clock and holds the last finished conversion, as the chip does.
type adsModel struct {
	slow   float64 // 1.08: 8 % slow
	inputs [4]int16
	rate   int
	config uint16
	done   time.Time
	held   int16
}

func (m *adsModel) tx(_ int, _ uint16, w, r []byte) error {
	if now := time.Now(); m.config != 0 && !now.Before(m.done) {
		m.held = m.inputs[m.config>>12&3]
	}
	switch {
	case len(w) == 3 && w[0] == 0x01:
		m.config = uint16(w[1])<<8 | uint16(w[2])
		m.done = time.Now().Add(time.Duration(float64(time.Second) / float64(m.rate) * m.slow))
	case w[0] == 0x01:
		c := m.config & 0x7FFF
		if !time.Now().Before(m.done) {
			c |= 0x8000
		}
		r[0], r[1] = byte(c>>8), byte(c)
	case w[0] == 0x00:
		r[0], r[1] = byte(uint16(m.held)>>8), byte(m.held)
	}
	return nil
}

const twoPots = `[[probe]]
id = "pot1"
measures = "pot-moisture"
[probe.ads1115]
bus = 1
channel = 0
rate = 8
[[probe]]
id = "pot2"
measures = "pot-moisture"
[probe.ads1115]
bus = 1
channel = 1
rate = 8
`

func slowConverter(t *testing.T) {
	for _, slow := range []float64{0.9, 1, 1.08, 1.1} {
		synctest.Test(t, func(t *testing.T) {
			m := &adsModel{slow: slow, rate: 8, inputs: [4]int16{11111, 22222}}
			s := on(t, &faultBus{tx: m.tx}, Env{}, twoPots)
			for range 3 {
				rs, fs := s.Poll(t.Context())
				if len(fs) > 0 || len(rs) != 2 || rs[0].Raw != 11111 || rs[1].Raw != 22222 {
					t.Fatalf("clock at %v of its rate: %v, %v", slow, rs, fs)
				}
			}
		})
	}
	synctest.Test(t, func(t *testing.T) {
		m := &adsModel{slow: 1.5, rate: 8, inputs: [4]int16{11111, 22222}}
		_, fs := on(t, &faultBus{tx: m.tx}, Env{}, twoPots).Poll(t.Context())
		if len(fs) != 2 || fs[0].Kind != sensors.Silent {
			t.Errorf("a converter past its cap: %v", fs)
		}
	})
}

func openInput(t *testing.T) {
	var wishes []Wish
	for _, p := range probesOf(t, potOnADS+strings.Replace(potOnADS, "D7-m", "D7-again", 1)) {
		w, err := ParseProbe(p)
		if err != nil {
			t.Fatal(err)
		}
		wishes = append(wishes, w)
	}
	if _, err := Group(wishes); err == nil || !strings.Contains(err.Error(), "D7-m") || !strings.Contains(err.Error(), "D7-again") {
		t.Errorf("two probes on one channel: %v", err)
	}
	synctest.Test(t, func(t *testing.T) {
		m := &adsModel{slow: 1, rate: 128, inputs: [4]int16{0: 3200}} // an open input drifts from 0 to 0.6 V
		s := on(t, &faultBus{tx: m.tx}, Env{}, potOnADS+"open_below = \"0.7 V\"\n")
		if f := soleFault(t, s); f.Kind != sensors.Implausible {
			t.Errorf("an open input is %v: %s", f.Kind, f.Why)
		}
	})
	synctest.Test(t, func(t *testing.T) {
		m := &adsModel{slow: 1, rate: 128}
		wander := &faultBus{tx: func(call int, addr uint16, w, r []byte) error {
			m.inputs[0] = int16(8000 + call*37%600)
			return m.tx(call, addr, w, r)
		}}
		rs, _ := on(t, wander, Env{}, potOnADS+"noise = \"5 mV\"\n").Poll(t.Context())
		if len(rs) != 1 || rs[0].Quality != sensors.Suspect {
			t.Errorf("a wandering input is %v", rs)
		}
	})
}

// bmeChip answers like a BME280 or BMP280 with the calibration of the data sheet's example.
type bmeChip struct {
	id, status byte
	block      []byte // 8 bytes from 0xF7
	modes      []byte // written to the control register
	resets     int
}

func (m *bmeChip) tx(_ int, _ uint16, w, r []byte) error {
	low := []byte{0x70, 0x6b, 0x43, 0x67, 0x18, 0xfc, 0x7d, 0x8e, 0x43, 0xd6, 0xd0, 0x0b, 0x27, 0x0b, 0x8c, 0x00, 0xf9, 0xff, 0x8c, 0x3c, 0xf8, 0xc6,
		0x70, 0x17, 0x00, 0x4b}
	switch {
	case len(w) == 2 && w[0] == 0xF4:
		m.modes = append(m.modes, w[1])
	case len(w) == 2 && w[0] == 0xE0:
		m.resets++
	case len(w) != 1:
	case w[0] == 0xD0:
		r[0] = m.id
	case w[0] == 0xF3:
		r[0] = m.status
	case w[0] == 0x88:
		copy(r, low)
	case w[0] == 0xE1:
		copy(r, []byte{0x6a, 0x01, 0x00, 0x13, 0x29, 0x03, 0x1e})
	case w[0] == 0xF7:
		copy(r, m.block)
	}
	return nil
}

func wetBlock(hum uint16) []byte {
	return []byte{0x65, 0x5a, 0xc0, 0x7e, 0xed, 0x00, byte(hum >> 8), byte(hum)} // the data sheet example's counts
}

func busyForEver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := &bmeChip{id: idBME280, status: 0xFF, block: wetBlock(30000)}
		bus := &faultBus{tx: m.tx}
		f := soleFault(t, on(t, bus, Env{}, airOnBME))
		if f.Kind != sensors.Silent || bus.calls > 30 {
			t.Errorf("%v after %d transfers: %s", f.Kind, bus.calls, f.Why)
		}
	})
}

func stuckHumidity(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := &bmeChip{id: idBME280, block: wetBlock(skipped16)}
		s := on(t, &faultBus{tx: m.tx}, Env{}, airOnBME)
		if f := soleFault(t, s); f.Kind != sensors.Implausible {
			t.Errorf("a skipped humidity is %v", f.Kind)
		}
		m.block = wetBlock(30000)
		for i := range 25 {
			rs, fs := s.Poll(t.Context())
			if len(rs) != 1 {
				t.Fatalf("round %d: %v", i, fs)
			}
			if want := i == stuckAfter; (rs[0].Quality == sensors.Suspect) != want {
				t.Errorf("round %d is %v", i, rs[0].Quality)
			}
		}
		if m.resets != 1 {
			t.Errorf("the chip was reset %d times, want once", m.resets)
		}
		for i := range 25 {
			m.block = wetBlock(30000 + uint16(i%2))
			if rs, _ := s.Poll(t.Context()); i > 1 && (len(rs) != 1 || rs[0].Quality != sensors.Valid) {
				t.Fatalf("a humidity that moves by one count is %v", rs)
			}
		}
	})
}

func stuckBus(t *testing.T) {
	for _, b := range []byte{0x00, 0xFF} {
		synctest.Test(t, func(t *testing.T) {
			m := &bmeChip{id: idBME280, block: slices.Repeat([]byte{b}, 8)}
			if f := soleFault(t, on(t, &faultBus{tx: m.tx}, Env{}, airOnBME)); f.Kind != sensors.Garbled {
				t.Errorf("a block of %#x is %v: %s", b, f.Kind, f.Why)
			}
		})
		// Every driver of the shelf on a bus that says one byte for ever: nothing may pass for a temperature.
		for _, d := range []string{"sht4x", "bme280", "hdc302x", "mcp9808", "aht20"} {
			synctest.Test(t, func(t *testing.T) {
				bus := &faultBus{tx: func(_ int, _ uint16, _, r []byte) error { copy(r, slices.Repeat([]byte{b}, len(r))); return nil }}
				rs, fs := on(t, bus, Env{}, "[[probe]]\nid = \"x\"\nmeasures = \"air-temperature\"\n[probe."+d+"]\nbus = 1\n").Poll(t.Context())
				if len(rs) > 0 || len(fs) != 1 {
					t.Errorf("%s on a bus of %#x reads %v", d, b, rs)
				}
			})
		}
	}
}

func noHumidity(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var notices []string
		m := &bmeChip{id: idBMP280, block: wetBlock(30000)}
		s := on(t, &faultBus{tx: m.tx}, Env{Notice: func(_, text string) { notices = append(notices, text) }}, airOnBME)
		for range 3 {
			if f := soleFault(t, s); f.Kind != sensors.Silent || !strings.Contains(f.Why, "no humidity") {
				t.Errorf("%v: %s", f.Kind, f.Why)
			}
		}
		if len(notices) != 1 {
			t.Errorf("the keeper is told %d times", len(notices))
		}
	})
}

func forcedMode(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := &bmeChip{id: idBME280, block: wetBlock(30000)}
		s := on(t, &faultBus{tx: m.tx}, Env{}, airOnBME)
		for range 5 {
			s.Poll(t.Context())
		}
		if len(m.modes) != 5 {
			t.Errorf("%d conversions in 5 rounds", len(m.modes))
		}
		for _, mode := range m.modes {
			if mode&3 != 1 {
				t.Errorf("mode %#x lets the chip run on and warm itself", mode)
			}
		}
	})
}

func noHeater(t *testing.T) {
	heaters := [][]byte{{0x39}, {0x32}, {0x2F}, {0x24}, {0x1E}, {0x15}, {0x30, 0x6D}, {0x30, 0x6E}}
	for _, d := range []string{"sht4x", "hdc302x"} {
		synctest.Test(t, func(t *testing.T) {
			bus := &faultBus{tx: func(call int, _ uint16, w, r []byte) error {
				if call%3 == 0 {
					return errGone
				}
				return nil
			}}
			s := on(t, bus, Env{}, "[[probe]]\nid = \"x\"\nmeasures = \"air-humidity\"\n[probe."+d+"]\nbus = 1\n")
			for range 10 {
				s.Poll(t.Context())
			}
			for _, w := range bus.wrote {
				for _, h := range heaters {
					if slices.Equal(w, h) {
						t.Errorf("%s sent the heater command % x", d, w)
					}
				}
			}
		})
	}
}

func signMagnitude(t *testing.T) {
	// -1.0 °C in sign and magnitude is 0x800A in tenths; read as two's complement it is -3275.8 °C.
	word := uint16(0x800A)
	a := answer{raw: int64(int16(word)), step: units.Step{Unit: units.Temperature, Num: 100, Den: 1}}
	if got := plausible(a); got.err == nil {
		t.Errorf("%s passes", units.MilliCelsius(a.step.Of(a.raw)))
	}
	for _, edge := range []struct {
		milli int64
		ok    bool
	}{{-45_000, true}, {-45_001, false}, {70_000, true}, {70_001, false}, {0, true}} {
		if got := plausible(whole(edge.milli, units.Temperature)); (got.err == nil) != edge.ok {
			t.Errorf("%d m°C: %v", edge.milli, got.err)
		}
	}
	if _, ok := Named("am2320"); ok {
		t.Error("the driver that reads frost this way is on the shelf")
	}
}

func zeroKelvin(t *testing.T) {
	var none answer
	if plausible(answer{raw: -273_150, step: units.Whole(units.Temperature)}).err == nil {
		t.Error("zero kelvin passes")
	}
	if none.step.Unit.Known() {
		t.Error("an answer that was never given has a unit")
	}
	for file, names := range calls(t) {
		for _, bad := range []string{"SenseContinuous", "ReadContinuous"} {
			if slices.Contains(names, bad) {
				t.Errorf("%s uses %s: after an error it delivers -273.15 °C", file, bad)
			}
		}
	}
}

func noHalt(t *testing.T) {
	for file, names := range calls(t) {
		if slices.Contains(names, "Halt") && file != "hdc302x.go" {
			t.Errorf("%s uses Halt, which hangs in most of the library's drivers", file)
		}
	}
}

func changedScale(t *testing.T) {
	const bounded = "[[probe]]\nid = \"F2-m\"\nmeasures = \"pot-moisture\"\n[probe.i2c-register]\nbus = 1\naddress = 0x36\nwrite = [15, 16]\nread = 2\ncount = \"1 count\"\n"
	count := uint16(612)
	bus := &faultBus{tx: func(_ int, _ uint16, _, r []byte) error { r[0], r[1] = byte(count>>8), byte(count); return nil }}
	s := on(t, bus, Env{}, bounded)
	for _, want := range []uint16{612, 610, 21, 20} {
		count = want
		rs, _ := s.Poll(t.Context())
		if len(rs) != 1 || rs[0].Raw != int64(want) || rs[0].Unit() != units.Count {
			t.Errorf("count %d is kept as %v: raw must stay raw, so that a new epoch can be marked", want, rs)
		}
	}
	if f := soleFault(t, on(t, bus, Env{}, bounded+"low = \"200 counts\"\n")); f.Kind != sensors.Implausible {
		t.Errorf("below its bound it is %v", f.Kind)
	}
}

// calls lists by file the names this package selects from anything.
func calls(t *testing.T) map[string][]string {
	t.Helper()
	names := map[string][]string{}
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		src, err := parser.ParseFile(token.NewFileSet(), f, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(src, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok {
				names[f] = append(names[f], sel.Sel.Name)
			}
			return true
		})
	}
	if len(names["hdc302x.go"]) == 0 {
		t.Fatal("no source found")
	}
	return names
}

func noGlobalStart(t *testing.T) {
	root, err := checks.Root()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") {
			return errors.Join(err)
		}
		src, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return nil // another room's unfinished file
		}
		seen++
		for _, imp := range src.Imports {
			name := strings.Trim(imp.Path.Value, `"`)
			if !strings.HasPrefix(name, "periph.io/x/host") {
				continue
			}
			rel, _ := filepath.Rel(root, path)
			if name != "periph.io/x/host/v3/sysfs" || filepath.Dir(rel) != filepath.Join("sensors", "bus") {
				t.Errorf("%s imports %s: the global start takes pins and can wait for ever, the netlink path has no time limit", rel, name)
			}
		}
		return nil
	})
	if err != nil || seen < 20 {
		t.Errorf("looked at %d files: %v", seen, err)
	}
}
