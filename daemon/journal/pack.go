package journal

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"

	"lathwatch/sensors"
)

// A tail row packs one round:
//
//	byte     1, the version
//	uvarint  readings; each: uvarint series*2+suspect, varint raw
//	uvarint  faults; each: text probe, byte kind, text why      (text: uvarint length, bytes)
//	4 bytes  CRC-32C, little endian, of the row's time (8 bytes, little endian) and all of the above
const packVersion = 1

var (
	castagnoli = crc32.MakeTable(crc32.Castagnoli)
	errCut     = errors.New("it is cut short")
	errSum     = errors.New("its checksum is wrong")
)

// A packed round is a round as the tail has it: series by number.
type packed struct {
	t      int64 // UTC ms
	reads  []packedReading
	faults []sensors.Fault
}

type packedReading struct {
	series  int64
	raw     int64
	suspect bool
}

func (p *packed) append(b []byte) []byte {
	start := len(b)
	b = append(b, packVersion)
	b = binary.AppendUvarint(b, uint64(len(p.reads)))
	for _, r := range p.reads {
		k := uint64(r.series) << 1
		if r.suspect {
			k |= 1
		}
		b = binary.AppendVarint(binary.AppendUvarint(b, k), r.raw)
	}
	b = binary.AppendUvarint(b, uint64(len(p.faults)))
	for _, f := range p.faults {
		b = appendText(b, string(f.Probe))
		b = append(b, byte(f.Kind))
		b = appendText(b, f.Why)
	}
	return binary.LittleEndian.AppendUint32(b, tailSum(p.t, b[start:]))
}

func tailSum(t int64, b []byte) uint32 {
	var at [8]byte
	binary.LittleEndian.PutUint64(at[:], uint64(t))
	return crc32.Update(crc32.Checksum(at[:], castagnoli), castagnoli, b)
}

func unpack(t int64, b []byte) (p packed, err error) {
	err = p.read(t, b)
	return p, err
}

// read fills p from a row, using its slices again.
func (p *packed) read(t int64, b []byte) error {
	p.t, p.reads, p.faults = t, p.reads[:0], nil
	if len(b) < 7 {
		return errCut
	}
	body := b[:len(b)-4]
	if binary.LittleEndian.Uint32(b[len(body):]) != tailSum(t, body) {
		return errSum
	}
	if body[0] != packVersion {
		return fmt.Errorf("its version is %d, not %d", body[0], packVersion)
	}
	d := scanner{b: body[1:]}
	for range d.count(2) {
		k := d.uvarint()
		p.reads = append(p.reads, packedReading{series: int64(k >> 1), suspect: k&1 == 1, raw: d.varint()})
	}
	for range d.count(3) {
		p.faults = append(p.faults, sensors.Fault{Probe: sensors.ProbeID(d.text()), Kind: sensors.FaultKind(d.byte()), Why: d.text()})
	}
	return d.end()
}

func appendText(b []byte, s string) []byte {
	return append(binary.AppendUvarint(b, uint64(len(s))), s...)
}

// A scanner reads the parts of a blob; after the first that is cut short all are zero.
type scanner struct {
	b   []byte
	err error
}

func (d *scanner) cut() {
	d.b = nil
	if d.err == nil {
		d.err = errCut
	}
}

func (d *scanner) uvarint() uint64 {
	v, n := binary.Uvarint(d.b)
	if n <= 0 {
		d.cut()
		return 0
	}
	d.b = d.b[n:]
	return v
}

func (d *scanner) varint() int64 {
	v, n := binary.Varint(d.b)
	if n <= 0 {
		d.cut()
		return 0
	}
	d.b = d.b[n:]
	return v
}

func (d *scanner) byte() byte {
	if len(d.b) == 0 {
		d.cut()
		return 0
	}
	v := d.b[0]
	d.b = d.b[1:]
	return v
}

func (d *scanner) text() string {
	n := d.count(1)
	if n == 0 {
		return ""
	}
	s := string(d.b[:n])
	d.b = d.b[n:]
	return s
}

// count reads how many things of at least size bytes follow; more than the rest could hold is an error, so that a bad blob
// cannot ask for the memory of the board.
func (d *scanner) count(size int) int {
	n := d.uvarint()
	if n > uint64(len(d.b)/size) {
		d.cut()
		return 0
	}
	return int(n)
}

func (d *scanner) end() error {
	if d.err == nil && len(d.b) > 0 {
		d.err = fmt.Errorf("%d bytes are left over", len(d.b))
	}
	return d.err
}

// appendWithTime is for rounds whose row is not named by their time: eight bytes of it, little endian, go first.
func (p *packed) appendWithTime(b []byte) []byte {
	b = binary.LittleEndian.AppendUint64(b, uint64(p.t))
	return p.append(b)
}

func unpackWithTime(b []byte) (packed, error) {
	if len(b) < 8 {
		return packed{}, errCut
	}
	return unpack(int64(binary.LittleEndian.Uint64(b)), b[8:])
}
