package bus

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// A fakeBus is one opening of a bus; what a transfer does is the test's.
type fakeBus struct {
	tx     func(addr uint16) error
	closed *int
}

func (b fakeBus) Tx(addr uint16, _, _ []byte) error { return b.tx(addr) }
func (b fakeBus) SetSpeed(physic.Frequency) error   { return nil }
func (b fakeBus) String() string                    { return "fake" }
func (b fakeBus) Close() error                      { *b.closed++; return nil }

// A rig counts what a guard does to its bus.
type rig struct {
	g                     *Guard
	opened, closed, asked int
	tx                    func(addr uint16) error
	missing               error
	notices               []string
}

func newRig() *rig {
	r := &rig{tx: func(uint16) error { return nil }}
	r.g = &Guard{
		Name: "i2c-1",
		Open: func() (i2c.BusCloser, error) {
			if r.missing != nil {
				return nil, r.missing
			}
			r.opened++
			return fakeBus{tx: func(addr uint16) error { r.asked++; return r.tx(addr) }, closed: &r.closed}, nil
		},
		Notice: func(bus, text string) { r.notices = append(r.notices, bus+": "+text) },
	}
	return r
}

var (
	errTimeout = errors.New("sysfs-i2c: connection timed out")
	errNobody  = errors.New("sysfs-i2c: remote I/O error")
)

// round asks eight chips, as a full bus does.
func (r *rig) round() (answered int) {
	for addr := uint16(0x40); addr < 0x48; addr++ {
		if r.g.Tx(addr, []byte{0}, nil) == nil {
			answered++
		}
	}
	return answered
}

// TestFieldLogBus replays what whole buses have done to keepers.
func TestFieldLogBus(t *testing.T) {
	t.Run("B4_one_chip_holds_the_line", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := newRig()
			if r.round() != 8 || r.opened != 1 {
				t.Fatalf("a healthy bus: opened %d times", r.opened)
			}
			r.tx = func(uint16) error { time.Sleep(time.Second); return errTimeout }
			start := time.Now()
			r.round()
			if took := time.Since(start); took > 5*time.Second {
				t.Errorf("a wedged bus takes %s of a round: each chip waits its second", took)
			}
			if len(r.notices) != 1 || r.opened != 2 {
				t.Errorf("%d notices, opened %d times; want one, and closed and opened once", len(r.notices), r.opened)
			}
			r.asked = 0
			for range 60 { // an hour of rounds
				time.Sleep(time.Minute)
				if r.round() > 0 {
					t.Fatal("a wedged bus answers")
				}
			}
			if r.asked > 60 || r.asked < 30 || len(r.notices) != 1 {
				t.Errorf("%d tries and %d notices in an hour; want about one try a minute and no more notices", r.asked, len(r.notices))
			}
			if err := r.g.Tx(0x40, nil, nil); !errors.Is(err, ErrWedged) {
				t.Errorf("between tries: %v", err)
			}
			r.tx = func(uint16) error { return nil }
			time.Sleep(time.Minute)
			if r.round() != 8 || len(r.notices) != 2 || !strings.Contains(r.notices[1], "answers again") {
				t.Errorf("the line is free again: %q", r.notices)
			}
		})
	})
	t.Run("B4_absent_chips_do_not_wedge_a_bus", func(t *testing.T) {
		r := newRig()
		r.tx = func(uint16) error { return errNobody }
		for range 10 {
			r.round()
		}
		if r.asked != 80 || len(r.notices) != 0 || r.opened != 1 {
			t.Errorf("%d transfers, %d notices, opened %d times", r.asked, len(r.notices), r.opened)
		}
	})
	t.Run("B4_one_slow_chip_among_good_ones_is_its_own_trouble", func(t *testing.T) {
		r := newRig()
		r.tx = func(addr uint16) error {
			if addr == 0x44 {
				return errTimeout
			}
			return nil
		}
		for range 20 {
			if r.round() != 7 {
				t.Fatal("the others are disturbed")
			}
		}
		if len(r.notices) != 0 {
			t.Errorf("%q", r.notices)
		}
	})
	t.Run("P2_bus_that_appears_later", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			r := newRig()
			r.missing = errors.New("sysfs-i2c: bus #1 is not configured: open /dev/i2c-1: no such file or directory")
			b := New(Options{OpenI2C: func(int) (i2c.BusCloser, error) { return r.g.Open() }})
			lent, err := b.I2C(1)
			if err != nil {
				t.Fatalf("lending a bus that is not there yet: %v", err)
			}
			for range 3 {
				if err := lent.Tx(0x44, []byte{0xFD}, nil); err == nil || !strings.Contains(err.Error(), "opening i2c-1") {
					t.Fatalf("a bus that is not there: %v", err)
				}
				time.Sleep(10 * time.Second)
			}
			r.missing = nil
			if err := lent.Tx(0x44, []byte{0xFD}, nil); err != nil {
				t.Errorf("30 s later: %v", err)
			}
			r.tx = func(uint16) error { return errors.New("sysfs-i2c: no such device") } // the adapter is pulled out
			if lent.Tx(0x44, []byte{0xFD}, nil) == nil {
				t.Error("a bus that is gone answers")
			}
			r.tx = func(uint16) error { return nil }
			if err := lent.Tx(0x44, []byte{0xFD}, nil); err != nil || r.opened != 2 {
				t.Errorf("plugged in again: %v, opened %d times", err, r.opened)
			}
		})
	})
}

func TestBusIsOpenedOnceWhoeverBorrowsIt(t *testing.T) {
	r := newRig()
	b := New(Options{OpenI2C: func(int) (i2c.BusCloser, error) { return r.g.Open() }})
	for range 3 {
		lent, err := b.I2C(1)
		if err != nil {
			t.Fatal(err)
		}
		if err := lent.Tx(0x44, []byte{1}, nil); err != nil {
			t.Fatal(err)
		}
	}
	if r.opened != 1 {
		t.Errorf("opened %d times", r.opened)
	}
	if err := b.Close(); err != nil || r.closed != 1 {
		t.Errorf("closing: %v, closed %d times", err, r.closed)
	}
	if _, err := b.I2C(1); err == nil {
		t.Error("a closed board lends")
	}
}

func TestFakeTreeHasNoBusOfItsOwn(t *testing.T) {
	b := New(Options{Root: t.TempDir()})
	lent, err := b.I2C(1)
	if err != nil {
		t.Fatal(err)
	}
	if err := lent.Tx(0x44, []byte{1}, nil); err == nil || !strings.Contains(err.Error(), "no board") {
		t.Errorf("a fake tree reached a real bus: %v", err)
	}
}

func ExampleClashes() {
	for _, err := range Clashes(wishes("air ina219 i2c-1 0x44", "wall sht4x i2c-1 0x44", "shed aht20 i2c-1 0x38", "far sht4x i2c-2 0x44")) {
		fmt.Println(err)
	}
	fmt.Println(MayAnswer(0x76))
	// Output:
	// probes air (ina219) and wall (sht4x) both want i2c-1 0x44: the ina219 could also be set to 0x40, 0x41, 0x42, 0x43, 0x45, 0x46, 0x47, 0x48, 0x49, 0x4a, 0x4b, 0x4c, 0x4d, 0x4e, 0x4f; the sht4x could also be set to 0x45, 0x46
	// [bme280 pca9548]
}
