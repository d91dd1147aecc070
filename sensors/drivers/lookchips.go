package drivers

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"periph.io/x/conn/v3/i2c"
)

// A chipKind is how one kind of I2C chip is told without disturbing it or whoever sits at its address instead: by reading an
// identity, never by writing a setting. Only the addresses the kind can have are asked. The kernel's own chips are refused by
// the bus and so passed over. (A multiplexer at 0x76 or 0x77 would take a register number for a choice of branches; the shelf
// has none.)
type chipKind struct {
	driver   string
	at       []uint16
	measures []string
	is       func(dev *i2c.Dev) string // what it is; empty: not this kind
}

// look asks every bus of the board for chips of the kind.
func (k chipKind) look(env Env) []Found {
	var found []Found
	for _, n := range i2cNumbers(env) {
		bus, err := env.I2C(n)
		if err != nil {
			continue
		}
		for _, addr := range k.at {
			says := k.is(&i2c.Dev{Bus: bus, Addr: addr})
			if says == "" {
				continue
			}
			number := n
			at := i2cAt{Bus: &number, Address: int(addr)}
			for _, m := range k.measures {
				found = append(found, Found{Bus: at.bus(), Chip: at.chip(), Channel: m, Says: fmt.Sprintf("%s at 0x%02x", says, addr),
					Block: fmt.Sprintf("[[probe]]\nid = \"\"\nmeasures = %q\nplace = \"\"\n[probe.%s]\nbus = %d\naddress = 0x%02x\n", m, k.driver, n, addr)})
			}
		}
	}
	return found
}

// i2cNumbers lists the board's buses by their device nodes, lowest first.
func i2cNumbers(env Env) (numbers []int) {
	if env.I2C == nil {
		return nil
	}
	entries, _ := os.ReadDir(env.path("dev")) // no folder, no buses
	for _, e := range entries {
		if text, ok := strings.CutPrefix(e.Name(), "i2c-"); ok {
			if n, err := strconv.Atoi(text); err == nil {
				numbers = append(numbers, n)
			}
		}
	}
	slices.Sort(numbers)
	return numbers
}

// word reads a 16-bit register, high byte first.
func word(dev *i2c.Dev, reg byte) (uint16, bool) {
	var b [2]byte
	err := dev.Tx([]byte{reg}, b[:])
	return uint16(b[0])<<8 | uint16(b[1]), err == nil
}

var (
	air2 = []string{"air-temperature", "air-humidity"}
	air3 = []string{"air-temperature", "air-humidity", "air-pressure"}
)

func isSHT4x(dev *i2c.Dev) string {
	if dev.Tx([]byte{0x89}, nil) != nil { // serial number
		return ""
	}
	time.Sleep(2 * time.Millisecond)
	var b [6]byte
	if dev.Tx(nil, b[:]) != nil || crcHumidity(b[0:2]) != b[2] || crcHumidity(b[3:5]) != b[5] {
		return ""
	}
	return fmt.Sprintf("SHT4x, serial %02x%02x%02x%02x", b[0], b[1], b[3], b[4])
}

func isHDC302x(dev *i2c.Dev) string {
	var b [3]byte
	if dev.Tx([]byte{0x37, 0x81}, b[:]) != nil || b[0] != 0x30 || b[1] != 0x00 || crcHumidity(b[0:2]) != b[2] { // manufacturer
		return ""
	}
	return "HDC302x"
}

func isBME(dev *i2c.Dev) string {
	var b [1]byte
	if dev.Tx([]byte{0xD0}, b[:]) != nil {
		return ""
	}
	switch b[0] {
	case idBME280:
		return "BME280"
	case idBMP280:
		return "BMP280 (no humidity)"
	}
	return ""
}

// isAHT20 only reads: at this address an output expander would take a written byte for its outputs. The status byte has its
// calibrated bit set and its busy bit clear once the chip has been set up.
func isAHT20(dev *i2c.Dev) string {
	var b [7]byte
	if dev.Tx(nil, b[:]) != nil || b[0]&0x88 != 0x08 || crcHumidity(b[:6]) != b[6] {
		return ""
	}
	return "AHT20"
}

func isADS1115(dev *i2c.Dev) string {
	// No identity: the settings it wakes with, or those this daemon leaves it with.
	if got, ok := word(dev, 0x01); ok && (got == 0x8583 || got&0x8103 == 0x8103) && got != 0xFFFF {
		return "ADS1115 or one of its family"
	}
	return ""
}

func isINA219(dev *i2c.Dev) string {
	if got, ok := word(dev, 0x00); ok && (got == 0x399F || got == 0x1FFF) { // at power-on, or as set here
		return "INA219"
	}
	return ""
}

func lookMCP9808(env Env) []Found {
	return chipKind{"mcp9808", addresses(0x18, 0x1F), air2[:1], func(dev *i2c.Dev) string {
		if isMCP9808(dev) != nil {
			return ""
		}
		return "MCP9808"
	}}.look(env)
}

func lookSHT4x(env Env) []Found {
	return chipKind{"sht4x", addresses(0x44, 0x46), air2, isSHT4x}.look(env)
}

func lookHDC302x(env Env) []Found {
	return chipKind{"hdc302x", addresses(0x44, 0x47), air2, isHDC302x}.look(env)
}

func lookBME280(env Env) []Found {
	return chipKind{"bme280", addresses(0x76, 0x77), air3, isBME}.look(env)
}

func lookAHT20(env Env) []Found {
	return chipKind{"aht20", addresses(0x38, 0x38), air2, isAHT20}.look(env)
}

func lookINA219(env Env) []Found {
	return chipKind{"ina219", addresses(0x40, 0x4F), []string{"battery"}, isINA219}.look(env)
}

// lookADS1115 offers each channel: which of them has a probe only the keeper knows.
func lookADS1115(env Env) []Found {
	var all []Found
	for _, f := range (chipKind{"ads1115", addresses(0x48, 0x4B), []string{"pot-moisture"}, isADS1115}).look(env) {
		for channel := range 4 {
			g := f
			g.Channel = fmt.Sprintf("channel %d", channel)
			g.Block = strings.Replace(f.Block, "place = \"\"", "pot = \"\"", 1) + fmt.Sprintf("channel = %d\n", channel)
			all = append(all, g)
		}
	}
	return all
}

func addresses(from, to uint16) (all []uint16) {
	for a := from; a <= to; a++ {
		all = append(all, a)
	}
	return all
}
