package bus

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"periph.io/x/conn/v3/i2c"

	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// wishes makes wishes of "probe driver chip".
func wishes(texts ...string) (all []drivers.Wish) {
	for _, t := range texts {
		w := strings.SplitN(t, " ", 3)
		all = append(all, drivers.Wish{Probe: sensors.ProbeID(w[0]), Driver: w[1], Chip: w[2]})
	}
	return all
}

func TestChipOfTheKernelIsRefused(t *testing.T) {
	root := t.TempDir()
	dev := filepath.Join(root, "sys/bus/i2c/devices/1-0076")
	if err := os.MkdirAll(dev, 0o755); err != nil {
		t.Fatal(err)
	}
	asked := 0
	b := New(Options{Root: root, OpenI2C: func(int) (i2c.BusCloser, error) {
		closed := 0
		return fakeBus{tx: func(uint16) error { asked++; return nil }, closed: &closed}, nil
	}})
	lent, err := b.I2C(1)
	if err != nil {
		t.Fatal(err)
	}
	if err := lent.Tx(0x76, []byte{0xD0}, nil); err != nil {
		t.Fatalf("a chip without a kernel driver: %v", err)
	}
	if err := os.Symlink("../../../../bus/i2c/drivers/bmp280", filepath.Join(dev, "driver")); err != nil {
		t.Fatal(err)
	}
	err = lent.Tx(0x76, []byte{0xD0}, nil)
	if err == nil || !strings.Contains(err.Error(), "bmp280") || asked != 1 {
		t.Errorf("bound to a kernel driver since: %v after %d transfers", err, asked)
	}
	if err := lent.Tx(0x77, []byte{0xD0}, nil); err != nil {
		t.Errorf("its neighbour: %v", err)
	}
	other, _ := b.I2C(11)
	if err := other.Tx(0x76, []byte{0xD0}, nil); err != nil {
		t.Errorf("the same address on another bus: %v", err)
	}
}

func TestClashesNameBothProbes(t *testing.T) {
	for _, c := range []struct {
		name string
		has  []string
		want []string
	}{
		{"one chip, two quantities", []string{"a sht4x i2c-1 0x44", "b sht4x i2c-1 0x44"}, nil},
		{"two kinds at one address", []string{"a mcp9808 i2c-1 0x18", "b ds2482 i2c-1 0x18"}, []string{"a (mcp9808)", "b (ds2482)"}},
		{"a chip that cannot move", []string{"a aht20 i2c-1 0x38", "b i2c-register i2c-1 0x38"}, []string{"has this address only"}},
		{"two without known straps", []string{"a i2c-register i2c-1 0x36", "b other i2c-1 0x36"}, []string{"another bus"}},
		{"no I2C", []string{"a w1 w1 28-0316a2794f21", "b other w1 28-0316a2794f21"}, nil},
	} {
		got := Clashes(wishes(c.has...))
		if len(got) != min(len(c.want), 1) {
			t.Errorf("%s: %v", c.name, got)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(got[0].Error(), w) {
				t.Errorf("%s: %q does not say %q", c.name, got[0], w)
			}
		}
	}
}

// The table of straps and the address check of each driver on the shelf must agree, address by address.
func TestStrapsAgreeWithTheShelf(t *testing.T) {
	measures := map[string]garden.Measures{"bh1750": garden.Light, "ina219": garden.Battery, "ads1115": garden.Battery}
	checked := 0
	for _, s := range Straps {
		d, ok := drivers.Named(s.Driver)
		if !ok {
			continue
		}
		checked++
		m, ok := measures[s.Driver]
		if !ok {
			m = garden.AirTemperature
		}
		for addr := uint16(0x08); addr <= 0x77; addr++ {
			p := garden.Probe{ID: "x", Measures: m, Source: table.Raw{Name: s.Driver, Path: "probe x, " + s.Driver, Line: 1, Body: fmt.Sprintf("bus = 1\naddress = %d\n", addr)}}
			if _, err := d.Parse(p); (err == nil) != slices.Contains(s.At, addr) {
				t.Errorf("%s at %#02x: the table says %v, the driver %v", s.Driver, addr, slices.Contains(s.At, addr), err)
			}
		}
	}
	if checked < 8 {
		t.Errorf("only %d kinds of chip are on the shelf", checked)
	}
}
