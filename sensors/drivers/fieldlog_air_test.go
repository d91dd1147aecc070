package drivers

import (
	"slices"
	"strings"
	"testing"
	"testing/synctest"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

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
