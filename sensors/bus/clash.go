package bus

import (
	"fmt"
	"slices"
	"strings"

	"lathwatch/sensors/drivers"
)

// A Strap is the addresses a kind of chip can be set to answer at, by its data sheet.
type Strap struct {
	Driver string // of the shelf, or the part for one we only need to know of
	At     []uint16
}

// Straps lists what shares the addresses of our chips, in order of name.
var Straps = []Strap{
	{"ads1115", span(0x48, 0x4B)}, {"aht20", []uint16{0x38}}, {"am2320", []uint16{0x5C}}, {"bh1750", []uint16{0x23, 0x5C}},
	{"bme280", span(0x76, 0x77)}, {"ds2482", span(0x18, 0x1F)}, {"hdc302x", span(0x44, 0x47)}, {"ina219", span(0x40, 0x4F)},
	{"mcp9808", span(0x18, 0x1F)}, {"pca9548", span(0x70, 0x77)}, {"sht4x", span(0x44, 0x46)}, {"tmp102", span(0x48, 0x4B)},
}

func span(from, to uint16) (all []uint16) {
	for a := from; a <= to; a++ {
		all = append(all, a)
	}
	return all
}

// MayAnswer names every kind of chip that can sit at an address, in order.
func MayAnswer(addr uint16) (names []string) {
	for _, s := range Straps {
		if slices.Contains(s.At, addr) {
			names = append(names, s.Driver)
		}
	}
	return names
}

// Clashes finds pairs of probes that want different kinds of chip at one I2C address and says for each which probes they are
// and where else their chips could be set to. Wishes that are not for I2C are passed over.
func Clashes(wishes []drivers.Wish) (found []error) {
	first := map[string]drivers.Wish{}
	for _, w := range wishes {
		addr, isI2C := address(w)
		f, taken := first[w.Chip]
		switch {
		case !isI2C:
		case !taken:
			first[w.Chip] = w
		case f.Driver != w.Driver:
			found = append(found, fmt.Errorf("probes %s (%s) and %s (%s) both want %s: %s", f.Probe, f.Driver, w.Probe, w.Driver, w.Chip,
				elsewhere(addr, f.Driver, w.Driver)))
		}
	}
	return found
}

// address is the I2C address in a wish's chip.
func address(w drivers.Wish) (addr uint16, ok bool) {
	var number int
	n, err := fmt.Sscanf(w.Chip, "i2c-%d 0x%x", &number, &addr)
	return addr, err == nil && n == 2
}

func elsewhere(addr uint16, names ...string) string {
	var ways []string
	for _, name := range names {
		at := strapOf(name)
		if len(at) == 0 {
			continue
		}
		var free []string
		for _, a := range at {
			if a != addr {
				free = append(free, fmt.Sprintf("0x%02x", a))
			}
		}
		if len(free) == 0 {
			ways = append(ways, fmt.Sprintf("the %s has this address only", name))
			continue
		}
		ways = append(ways, fmt.Sprintf("the %s could also be set to %s", name, strings.Join(free, ", ")))
	}
	if len(ways) == 0 {
		return "one of them must move to another bus"
	}
	return strings.Join(ways, "; ")
}

func strapOf(name string) []uint16 {
	for _, s := range Straps {
		if s.Driver == name {
			return s.At
		}
	}
	return nil
}
