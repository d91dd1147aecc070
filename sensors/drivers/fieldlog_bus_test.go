package drivers

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"lathwatch/sensors"
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
		{"B1_damaged_bytes_of_a_chip_with_many_registers", damagedBlock},
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
		{"A1_neighbour_channel", slowConverter},
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

func damagedBlock(t *testing.T) {
	const garden = "[[probe]]\nid = \"bme-t\"\nmeasures = \"air-temperature\"\n[probe.bme280]\nbus = 1\n"
	synctest.Test(t, func(t *testing.T) {
		m := &bmeChip{id: idBME280, block: wetBlock(30000)}
		chance := rand.New(rand.NewPCG(1, 2))
		bus := &faultBus{tx: func(call int, addr uint16, w, r []byte) error {
			err := m.tx(call, addr, w, r)
			if len(r) > 0 && chance.IntN(20) == 0 {
				r[chance.IntN(len(r))] ^= 0x80
			}
			return err
		}}
		s := on(t, bus, Env{}, garden)
		heard, refused := 0, 0
		for range 400 {
			rs, fs := s.Poll(t.Context())
			refused += len(fs)
			for _, r := range rs {
				heard++
				if r.Whole() != 25080 { // the data sheet example
					t.Fatalf("a damaged byte was taken for %s", units.MilliCelsius(r.Whole()))
				}
			}
		}
		if heard < 200 || refused < 20 {
			t.Errorf("%d readings and %d faults of 400", heard, refused)
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
		s := on(t, &faultBus{tx: m.tx}, Env{}, potOnADS+"open-below = \"0.7 V\"\n")
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
