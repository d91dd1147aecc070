package drivers

import (
	"fmt"
	"strings"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

func init() {
	add(Driver{
		Name: "sdi12",
		Doc:  "probes that speak SDI-12 (specification 1.4), on a serial line with an adapter or level shifter.",
		Example: `[[probe]]
id = "H1-moisture"
measures = "pot-moisture"
pot = "H1"
[probe.sdi12]
line = "/dev/serial/by-id/usb-sdi-adapter-if00"
address = "0"
command = "M"
crc = true
value = 1
count = "1 count"
`,
		Parse: parseSDI12,
	})
}

// sdiTable is one value of one sensor.
type sdiTable struct {
	Line    string   `toml:"line" help:"path of the serial line, best the one in /dev/serial/by-id"`
	Address string   `toml:"address" help:"one letter or digit"`
	Command string   `toml:"command" help:"M, M1 to M9, or C, C1 to C9"`
	CRC     bool     `toml:"crc" help:"ask for a checksum (version 1.3 sensors and later)"`
	Value   int      `toml:"value" help:"which of the measurement's values, counted from 1"`
	Count   perCount `toml:"count" help:"what 1.0 in the sensor's answer is worth: \"1 °C\", \"1 count\""`
	Low     *bound   `toml:"low" help:"readings below it cannot be true"`
	High    *bound   `toml:"high" help:"readings above it cannot be true"`
}

func parseSDI12(p garden.Probe) (Wish, error) {
	of := sdiTable{Command: "M", Value: 1}
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if err := of.check(p); err != nil {
		return Wish{}, err
	}
	n := of.number()
	if err := n.checkNumber(p); err != nil {
		return Wish{}, err
	}
	bus := "serial " + of.Line
	return Wish{Probe: p.ID, Bus: bus, Chip: fmt.Sprintf("%s sdi12 %s", bus, of.Address), Channel: fmt.Sprintf("value %d of %s", of.Value, of.verb()),
		Open: openSDI12, Of: of}, nil
}

func (of *sdiTable) check(p garden.Probe) error {
	switch {
	case !strings.HasPrefix(of.Line, "/"):
		return p.Source.Errorf("line", "write the whole path of the serial line, best the one in /dev/serial/by-id")
	case len(of.Address) != 1 || !isSDIAddress(of.Address[0]):
		return p.Source.Errorf("address", "%q: an address is one of 0 to 9, a to z, A to Z", of.Address)
	case !isSDICommand(of.Command):
		return p.Source.Errorf("command", "%q: write M, M1 to M9, C, or C1 to C9", of.Command)
	case of.Value < 1 || of.Value > of.most():
		return p.Source.Errorf("value", "a measurement by %s has values 1 to %d", of.Command, of.most())
	}
	return nil
}

// most is how many values a command can announce: one digit for M, two for C.
func (of *sdiTable) most() int {
	if of.Command[0] == 'C' {
		return 99
	}
	return 9
}

func isSDIAddress(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
}

func isSDICommand(s string) bool {
	if s == "" || len(s) > 2 || s[0] != 'M' && s[0] != 'C' {
		return false
	}
	return len(s) == 1 || s[1] >= '1' && s[1] <= '9'
}

// verb is the command as sent after the address: M, MC, M1, MC1, C, CC ...
func (of *sdiTable) verb() string {
	if of.CRC {
		return of.Command[:1] + "C" + of.Command[1:]
	}
	return of.Command
}

func (of *sdiTable) number() number { return number{Count: of.Count, Low: of.Low, High: of.High} }

// answer gives a value of a measurement its meaning.
func (of *sdiTable) answer(values []int64) answer {
	if of.Value > len(values) {
		return answer{err: garbled("the sensor gives %d values, not %d", len(values), of.Value)}
	}
	step, err := of.Count.finer()
	if err != nil {
		return answer{err: err}
	}
	n := of.number()
	return n.within(answer{raw: values[of.Value-1], step: step})
}
