package bus

import (
	"fmt"
	"os"
	"path/filepath"

	"periph.io/x/conn/v3/i2c"
)

// owned is a lent bus that refuses chips the kernel has a driver for: the file interface does not check, and two masters of one
// chip corrupt each other's settings. It looks at each transfer, for a kernel driver may be bound later.
type owned struct {
	i2c.Bus
	board  *Board
	number int
}

func (o owned) Tx(addr uint16, w, r []byte) error {
	if d := o.board.KernelDriver(o.number, addr); d != "" {
		return fmt.Errorf("i2c-%d 0x%02x belongs to the kernel's driver %s: read it through hwmon or iio instead", o.number, addr, d)
	}
	return o.Bus.Tx(addr, w, r)
}

// KernelDriver names the kernel's driver of a chip, empty when it has none.
func (b *Board) KernelDriver(number int, addr uint16) string {
	link, err := os.Readlink(b.path("sys/bus/i2c/devices", fmt.Sprintf("%d-%04x", number, addr), "driver"))
	if err != nil {
		return ""
	}
	return filepath.Base(link)
}
