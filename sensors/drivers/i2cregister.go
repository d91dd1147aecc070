package drivers

import (
	"context"
	"fmt"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func init() {
	add(Driver{
		Name: "i2c-register",
		Doc:  "any I2C probe that answers a few written bytes with a number, such as capacitive moisture probes.",
		Example: `[[probe]]
id = "F2-moisture"
measures = "pot-moisture"
pot = "F2"
[probe.i2c-register]
bus = 1
address = 0x20
write = [0x00]
wait = "20 ms"
read = 2
throw-away = 1
sentinels = [0xffff]
count = "1 count"
`,
		Parse: parseI2CRegister,
	})
}

// registerTable describes a conversation with a chip: what is written, how long it wants, and where the number lies in what
// comes back.
type registerTable struct {
	i2cAt
	Write     []int      `toml:"write" help:"bytes to write first"`
	Wait      units.Span `toml:"wait" help:"between writing and reading; none: one transfer does both"`
	Read      int        `toml:"read" help:"how many bytes to read"`
	ThrowAway int        `toml:"throw-away" help:"readings to throw away first: some probes answer with the one before"`
	number
}

// A number says where an integer lies in bytes and what it means.
type number struct {
	Offset    int      `toml:"offset" help:"of the first byte"`
	Width     int      `toml:"width" help:"bits: 8, 16, 24 or 32"`
	Endian    string   `toml:"endian" help:"\"big\" or \"little\""`
	Signed    bool     `toml:"signed" help:"the number may be negative"`
	Sentinels []int64  `toml:"sentinels" help:"as read, without sign: values that mean \"no reading\"; all ones when missing"`
	Zero      int64    `toml:"zero" help:"the count that means nought"`
	Count     perCount `toml:"count" help:"what one count is worth"`
	Low       *bound   `toml:"low" help:"readings below it cannot be true"`
	High      *bound   `toml:"high" help:"readings above it cannot be true"`
}

// A bound is a quantity of whatever unit the probe speaks: "5 °C", "900 counts".
type bound struct {
	n int64
	u units.Unit
}

func (b *bound) UnmarshalText(text []byte) (err error) {
	b.n, b.u, err = units.Parse(string(text))
	return err
}

func parseI2CRegister(p garden.Probe) (Wish, error) {
	of := registerTable{number: number{Width: 16, Endian: "big"}}
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if err := of.check(p, 0, 0x08, 0x77); err != nil {
		return Wish{}, err
	}
	if err := of.checkTalk(p); err != nil {
		return Wish{}, err
	}
	if err := of.checkNumber(p); err != nil {
		return Wish{}, err
	}
	if of.Sentinels == nil && !of.Signed {
		of.Sentinels = []int64{1<<of.Width - 1} // what a bus nobody drives reads as
	}
	settings := fmt.Sprintf("write % x, wait %s, read %d, throw away %d", of.bytes(), of.Wait, of.Read, of.ThrowAway)
	return Wish{Probe: p.ID, Bus: of.bus(), Chip: of.chip(), Channel: fmt.Sprintf("byte %d", of.Offset), Settings: settings,
		Open: openI2CRegister, Of: of}, nil
}

func (of *registerTable) checkTalk(p garden.Probe) error {
	for _, b := range of.Write {
		if b < 0 || b > 255 {
			return p.Source.Errorf("write", "%d is no byte: write numbers from 0 to 255", b)
		}
	}
	switch {
	case len(of.Write) > 32:
		return p.Source.Errorf("write", "at most 32 bytes")
	case of.Read < 1 || of.Read > 32:
		return p.Source.Errorf("read", "write how many bytes to read, 1 to 32")
	case of.Wait < 0 || of.Wait.Duration() > 5*time.Second:
		return p.Source.Errorf("wait", "at most 5 s")
	case of.ThrowAway < 0 || of.ThrowAway > 5:
		return p.Source.Errorf("throw-away", "0 to 5 readings")
	case of.Offset < 0 || of.Width%8 != 0 || of.Width < 8 || of.Width > 32 || of.Offset+of.Width/8 > of.Read:
		return p.Source.Errorf("width", "a number of 8, 16, 24 or 32 bits must lie within the %d bytes read", of.Read)
	case of.Endian != "big" && of.Endian != "little":
		return p.Source.Errorf("endian", "write \"big\" or \"little\"")
	}
	return nil
}

func (n *number) checkNumber(p garden.Probe) error {
	if !n.Count.Unit.Known() {
		return p.Source.Errorf("count", "write what one count is worth: count = \"1 count\", or like \"0.1 °C\"")
	}
	for _, b := range []*bound{n.Low, n.High} {
		if b != nil && b.u != n.Count.Unit {
			return p.Source.Errorf("low", "low and high must be in %s, as count is", n.Count.Unit)
		}
	}
	return nil
}

func (of *registerTable) bytes() []byte {
	var w []byte
	for _, b := range of.Write {
		w = append(w, byte(b))
	}
	return w
}

func openI2CRegister(env Env, wishes []Wish) (Source, error) {
	at := wishes[0].Of.(registerTable)
	bus, err := at.lend(env)
	if err != nil {
		return nil, err
	}
	dev := &i2c.Dev{Bus: bus, Addr: uint16(at.Address)}
	return &chip[*i2c.Dev]{
		wishes: wishes,
		make:   func(context.Context) (*i2c.Dev, error) { return dev, nil },
		ask: func(ctx context.Context, dev *i2c.Dev, wishes []Wish) []answer {
			var b []byte
			for range 1 + at.ThrowAway {
				var err error
				if b, err = at.talk(ctx, dev); err != nil {
					return amiss(len(wishes), err)
				}
			}
			answers := make([]answer, len(wishes))
			for i, w := range wishes {
				of := w.Of.(registerTable)
				answers[i] = of.decode(b)
			}
			return answers
		},
	}, nil
}

func (of *registerTable) talk(ctx context.Context, dev *i2c.Dev) ([]byte, error) {
	b := make([]byte, of.Read)
	if of.Wait == 0 {
		return b, dev.Tx(of.bytes(), b)
	}
	if len(of.Write) > 0 {
		if err := dev.Tx(of.bytes(), nil); err != nil {
			return nil, err
		}
	}
	if err := pause(ctx, of.Wait.Duration()); err != nil {
		return nil, err
	}
	return b, dev.Tx(nil, b)
}

// decode finds the number in what the chip said. A short answer is refused, never read as nought.
func (n *number) decode(b []byte) answer {
	size := n.Width / 8
	if n.Offset < 0 || size < 1 || n.Offset+size > len(b) {
		return answer{err: garbled("%d bytes are too few", len(b))}
	}
	part := slices.Clone(b[n.Offset : n.Offset+size])
	if n.Endian == "little" {
		slices.Reverse(part)
	}
	v := int64(0)
	for _, x := range part {
		v = v<<8 | int64(x)
	}
	return n.mean(v)
}

// mean judges an integer as read, without sign, and gives it its meaning.
func (n *number) mean(v int64) answer {
	if slices.Contains(n.Sentinels, v) {
		return answer{err: implausible("%#x means no reading", v)}
	}
	if n.Signed && v >= 1<<(n.Width-1) {
		v -= 1 << n.Width
	}
	return n.within(answer{raw: v - n.Zero, step: n.Count.Step})
}

func (n *number) within(a answer) answer {
	if v := a.step.Of(a.raw); n.Low != nil && v < n.Low.n || n.High != nil && v > n.High.n {
		return answer{err: implausible("%s is outside what is given as possible", a.step.Unit.Format(v))}
	}
	return a
}
