package drivers

import (
	"fmt"
	"net"
	"net/url"
	"strings"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func init() {
	add(Driver{
		Name: "modbus",
		Doc:  "probes that speak Modbus, on an RS-485 line (RTU) or a network (TCP, or RTU carried over TCP).",
		Example: `[[probe]]
id = "bed-temperature"
measures = "pot-temperature"
pot = "D7"
[probe.modbus]
at = "/dev/serial/by-id/usb-rs485-adapter-if00"
baud = 9600
parity = "none"
unit = 1
function = 4
register = 1
type = "s16"
count = "0.1 °C"
sentinels = [0x7fff]
`,
		Parse: parseModbus,
	})
}

// modbusTable is one quantity of one device.
type modbusTable struct {
	At        string     `toml:"at" help:"path of the serial line, by id; or tcp://host:502; or rtuovertcp://host:port"`
	Baud      int        `toml:"baud" help:"bits a second on the line"`
	Parity    string     `toml:"parity" help:"\"none\", \"even\" or \"odd\""`
	StopBits  int        `toml:"stop-bits" help:"1 also with no parity, as most devices have it"`
	Timeout   units.Span `toml:"timeout" help:"for one answer; many devices need half a second"`
	Unit      int        `toml:"unit" help:"the device's address on the line, 1 to 247"`
	Function  int        `toml:"function" help:"3 holding registers, 4 input registers"`
	Register  *int       `toml:"register" help:"counted from 0, as on the wire; documents often count from 1 or from 30001 or 40001"`
	Type      string     `toml:"type" help:"u16, s16, u32, s32, f32"`
	WordOrder string     `toml:"word-order" help:"\"high-first\" or \"low-first\", for 32 bits"`
	modbusNumber
}

// modbusNumber is what the registers mean.
type modbusNumber struct {
	Sentinels []int64  `toml:"sentinels" help:"as read, without sign: values that mean \"no reading\""`
	Zero      int64    `toml:"zero" help:"the count that means nought"`
	Count     perCount `toml:"count" help:"what one count (for f32: 1.0) is worth"`
	Low       *bound   `toml:"low" help:"readings below it cannot be true"`
	High      *bound   `toml:"high" help:"readings above it cannot be true"`
}

func parseModbus(p garden.Probe) (Wish, error) {
	of := modbusTable{Baud: 9600, Parity: "none", StopBits: 1, Timeout: units.Span(time.Second), Unit: 1, Function: 3, Type: "u16", WordOrder: "high-first"}
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if err := of.checkWire(p); err != nil {
		return Wish{}, err
	}
	if err := of.checkRegister(p); err != nil {
		return Wish{}, err
	}
	n := of.number()
	if err := n.checkNumber(p); err != nil {
		return Wish{}, err
	}
	settings := fmt.Sprintf("%d baud, parity %s, stop bits %d, timeout %s", of.Baud, of.Parity, of.StopBits, of.Timeout)
	return Wish{Probe: p.ID, Bus: of.bus(), Chip: fmt.Sprintf("%s unit %d", of.bus(), of.Unit),
		Channel: fmt.Sprintf("register %d by function %d", *of.Register, of.Function), Settings: settings, Open: openModbus, Of: of}, nil
}

// network is the scheme and host of an address on a network; empty for a serial line.
func (of *modbusTable) network() (scheme, host string) {
	u, err := url.Parse(of.At)
	if err != nil || u.Scheme == "" {
		return "", ""
	}
	return u.Scheme, u.Host
}

func (of *modbusTable) bus() string {
	if scheme, host := of.network(); scheme != "" {
		return scheme + " " + host
	}
	return "serial " + of.At
}

func (of *modbusTable) checkWire(p garden.Probe) error {
	scheme, host := of.network()
	switch {
	case of.At == "":
		return p.Source.Errorf("at", "write where the device is: the path of a serial line, tcp://host:502 or rtuovertcp://host:port")
	case scheme == "" && !strings.HasPrefix(of.At, "/"):
		return p.Source.Errorf("at", "%q: write the whole path of the serial line, best the one in /dev/serial/by-id", of.At)
	case scheme != "" && scheme != "tcp" && scheme != "rtuovertcp":
		return p.Source.Errorf("at", "%q: write a path, tcp:// or rtuovertcp://", of.At)
	}
	if scheme != "" {
		if _, _, err := net.SplitHostPort(host); err != nil {
			return p.Source.Errorf("at", "%q: write host and port, like tcp://192.0.2.7:502", of.At)
		}
	}
	if parityLetter(of.Parity) == 0 {
		return p.Source.Errorf("parity", "write \"none\", \"even\" or \"odd\"")
	}
	switch {
	case of.Baud < 300 || of.Baud > 1_000_000:
		return p.Source.Errorf("baud", "%d: write what the device is set to, mostly 4800 or 9600", of.Baud)
	case of.StopBits != 1 && of.StopBits != 2:
		return p.Source.Errorf("stop-bits", "1 or 2")
	case of.Timeout.Duration() < 50*time.Millisecond || of.Timeout.Duration() > 10*time.Second:
		return p.Source.Errorf("timeout", "between 50 ms and 10 s")
	}
	return nil
}

func parityLetter(word string) byte {
	switch word {
	case "none":
		return 'N'
	case "even":
		return 'E'
	case "odd":
		return 'O'
	}
	return 0
}

func (of *modbusTable) checkRegister(p garden.Probe) error {
	switch {
	case of.Unit < 1 || of.Unit > 247:
		return p.Source.Errorf("unit", "%d: a device's address is 1 to 247", of.Unit)
	case of.Function != 3 && of.Function != 4:
		return p.Source.Errorf("function", "3 (holding registers) or 4 (input registers)")
	case of.Register == nil:
		return p.Source.Errorf("register", "write the register, counted from 0; a document that says 40001 or 30001 means 0")
	case *of.Register < 0 || *of.Register+of.registers() > 65536:
		return p.Source.Errorf("register", "%d: registers are counted from 0 to 65535; a document that says 40001 or 30001 means 0", *of.Register)
	case of.registers() == 0:
		return p.Source.Errorf("type", "one of u16, s16, u32, s32, f32")
	case of.WordOrder != "high-first" && of.WordOrder != "low-first":
		return p.Source.Errorf("word-order", "\"high-first\" or \"low-first\"")
	case of.Type == "f32" && of.Zero != 0:
		return p.Source.Errorf("zero", "a number with a point has no count for nought: leave zero out")
	}
	return nil
}

// registers is how many 16-bit registers the type takes, 0 for no type.
func (of *modbusTable) registers() int {
	switch of.Type {
	case "u16", "s16":
		return 1
	case "u32", "s32", "f32":
		return 2
	}
	return 0
}

func (of *modbusTable) number() number {
	return number{Width: 16 * of.registers(), Endian: "big", Signed: of.Type[0] == 's',
		Sentinels: of.Sentinels, Zero: of.Zero, Count: of.Count, Low: of.Low, High: of.High}
}
