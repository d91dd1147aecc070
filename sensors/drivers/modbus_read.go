package drivers

import (
	"context"
	"fmt"
	"math"
)

// A modbusLink is an open way to devices: it asks for registers and gives their bytes, two a register, as they came.
type modbusLink interface {
	ask(ctx context.Context, q modbusAsk) ([]byte, error)
	close() error
}

// A modbusAsk is one request.
type modbusAsk struct {
	unit, function byte
	first, count   uint16
}

// A modbusBlock is what one function of a device is asked for: all wanted registers in one request, so that they belong
// together.
type modbusBlock struct {
	ask    modbusAsk
	wishes []int // places in the source's list
}

// mostRegisters is the protocol's limit of one request.
const mostRegisters = 125

func openModbus(env Env, wishes []Wish) (Source, error) {
	blocks, err := modbusBlocks(wishes)
	if err != nil {
		return nil, err
	}
	d := &modbusDevice{env: env, of: wishes[0].Of.(modbusTable), blocks: blocks}
	return &chip[modbusLink]{wishes: wishes, make: d.open, ask: d.ask, drop: func(l modbusLink) { l.close() }}, nil
}

func modbusBlocks(wishes []Wish) ([]modbusBlock, error) {
	var blocks []modbusBlock
	for _, function := range []int{3, 4} {
		b := modbusBlock{ask: modbusAsk{function: byte(function)}}
		low, high := math.MaxInt, 0
		for i, w := range wishes {
			of := w.Of.(modbusTable)
			if of.Function != function {
				continue
			}
			b.wishes = append(b.wishes, i)
			b.ask.unit = byte(of.Unit)
			low, high = min(low, *of.Register), max(high, *of.Register+of.registers())
		}
		if len(b.wishes) == 0 {
			continue
		}
		if high-low > mostRegisters {
			return nil, fmt.Errorf("opening %s: its registers %d to %d do not fit one request of %d", wishes[0].Chip, low, high-1, mostRegisters)
		}
		b.ask.first, b.ask.count = uint16(low), uint16(high-low)
		blocks = append(blocks, b)
	}
	return blocks, nil
}

// A modbusDevice is one unit on a line or host.
type modbusDevice struct {
	env    Env
	of     modbusTable
	blocks []modbusBlock
	shown  bool
}

func (d *modbusDevice) ask(ctx context.Context, link modbusLink, wishes []Wish) []answer {
	answers := make([]answer, len(wishes))
	for _, b := range d.blocks {
		data, err := link.ask(ctx, b.ask)
		if err == nil && len(data) != 2*int(b.ask.count) {
			err = garbled("%d bytes for %d registers", len(data), b.ask.count)
		}
		for _, i := range b.wishes {
			if err != nil {
				answers[i] = answer{err: err}
				continue
			}
			of := wishes[i].Of.(modbusTable)
			answers[i] = of.decode(data[2*(*of.Register-int(b.ask.first)):])
		}
		if err != nil {
			// A late answer to this request must not be taken for the answer to the next: chip closes the link now.
			return answersOr(answers, err)
		}
		d.show(b, data)
	}
	d.shown = true
	return answers
}

// answersOr fills the places not yet answered.
func answersOr(answers []answer, err error) []answer {
	for i, a := range answers {
		if a.err == nil && !a.step.Unit.Known() {
			answers[i].err = err
		}
	}
	return answers
}

// show prints the raw block once: register numbers in documents are often one off, and only the keeper can see that from the
// values.
func (d *modbusDevice) show(b modbusBlock, data []byte) {
	if d.shown || d.env.Log == nil {
		return
	}
	d.env.Log.Info("first answer: compare with what the device shows, registers may be one off", "at", d.of.At, "unit", b.ask.unit,
		"function", b.ask.function, "first register", b.ask.first, "raw", fmt.Sprintf("% x", data))
}

// decode reads the value at the start of b.
func (of *modbusTable) decode(b []byte) answer {
	size := 2 * of.registers()
	if len(b) < size {
		return answer{err: garbled("%d bytes are too few", len(b))}
	}
	v := uint32(0)
	for i := 0; i < size; i += 2 {
		word := uint32(b[i])<<8 | uint32(b[i+1])
		if of.WordOrder == "low-first" {
			v |= word << (8 * i)
		} else {
			v = v<<16 | word
		}
	}
	n := of.number()
	if of.Type != "f32" {
		return n.mean(int64(v))
	}
	return n.float(v)
}

// float gives a device's own decimal number to four digits behind the point.
func (n *number) float(bits uint32) answer {
	f := float64(math.Float32frombits(bits))
	for _, s := range n.Sentinels {
		if int64(bits) == s {
			return answer{err: implausible("%#x means no reading", bits)}
		}
	}
	if !(math.Abs(f) < 1e9) { // NaN too
		return answer{err: implausible("%v is no measurement", f)}
	}
	step, err := n.Count.finer()
	if err != nil {
		return answer{err: err}
	}
	return n.within(answer{raw: int64(math.Round(f * math.Pow10(decimals))), step: step})
}
