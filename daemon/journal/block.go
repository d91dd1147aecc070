package journal

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"slices"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// A block is one probe's UTC day, or (without a probe) the faults of the day and its rounds in which nobody answered:
//
//	2 bytes  "LW"
//	byte     1, the version
//	uvarint  the day, counted from 1 January 1970
//	text     probe; "" for the day's faults               (text: uvarint length, bytes)
//
// a probe's block goes on
//
//	text     unit, the SenML name of one whole step's unit; varint num; varint den  (num/den whole-number units a count)
//	times    of the readings
//	uvarint  runs of suspect readings; each: uvarint readings skipped since the last run, uvarint readings in it
//	varint   the first raw count
//	bits     the others (values.go)
//
// the faults' block goes on
//
//	times    of rounds without a reading or a fault
//	uvarint  groups; each: text probe, byte kind, text why, times
//
// and both end
//
//	4 bytes  CRC-32C, little endian, of all of the above
//
// times: uvarint n; if n > 0: uvarint ms since the day's start, then runs until n are told: uvarint step in ms, uvarint count.
const blockVersion = 1

// A column is one series' day.
type column struct {
	probe   sensors.ProbeID
	step    units.Step
	at, raw []int64 // UTC ms, rising; counts
	suspect []bool  // nil: all valid
}

// A faultRun is one complaint and when it was made.
type faultRun struct {
	fault sensors.Fault
	at    []int64
}

// bare is what a day holds besides readings.
type bare struct {
	empty []int64
	runs  []faultRun
}

func dayOfKey(k int64) int64      { return k >> 20 }
func key(day, series int64) int64 { return day<<20 | series }

func blockHead(b []byte, day int64, probe sensors.ProbeID) []byte {
	b = append(b, 'L', 'W', blockVersion)
	b = binary.AppendUvarint(b, uint64(day))
	return appendText(b, string(probe))
}

func blockSum(b []byte) []byte {
	return binary.LittleEndian.AppendUint32(b, crc32.Checksum(b, castagnoli))
}

func (e *encoder) column(day int64, c *column) []byte {
	b := blockHead(make([]byte, 0, 64+len(c.at)), day, c.probe)
	b = appendText(b, c.step.Unit.SenML())
	b = binary.AppendVarint(b, int64(c.step.Num))
	b = binary.AppendVarint(b, int64(c.step.Den))
	b = appendTimes(b, day, c.at)
	b = appendRuns(b, c.suspect)
	b = binary.AppendVarint(b, c.raw[0])
	return blockSum(e.values(b, c.raw))
}

func (e *encoder) bare(day int64, r *bare) []byte {
	b := blockHead(nil, day, "")
	b = appendTimes(b, day, r.empty)
	b = binary.AppendUvarint(b, uint64(len(r.runs)))
	for _, f := range r.runs {
		b = appendText(b, string(f.fault.Probe))
		b = append(b, byte(f.fault.Kind))
		b = appendText(b, f.fault.Why)
		b = appendTimes(b, day, f.at)
	}
	return blockSum(b)
}

func appendTimes(b []byte, day int64, at []int64) []byte {
	b = binary.AppendUvarint(b, uint64(len(at)))
	if len(at) == 0 {
		return b
	}
	b = binary.AppendUvarint(b, uint64(at[0]-day*dayMS))
	for i := 1; i < len(at); {
		step, n := at[i]-at[i-1], 1
		for i+n < len(at) && at[i+n]-at[i+n-1] == step {
			n++
		}
		b = binary.AppendUvarint(b, uint64(step))
		b = binary.AppendUvarint(b, uint64(n))
		i += n
	}
	return b
}

func appendRuns(b []byte, suspect []bool) []byte {
	var runs []uint64
	last := 0
	for i := 0; i < len(suspect); i++ {
		if !suspect[i] {
			continue
		}
		n := 1
		for i+n < len(suspect) && suspect[i+n] {
			n++
		}
		runs = append(runs, uint64(i-last), uint64(n))
		i += n
		last = i
	}
	b = binary.AppendUvarint(b, uint64(len(runs)/2))
	for _, r := range runs {
		b = binary.AppendUvarint(b, r)
	}
	return b
}

// openBlock checks a block's frame and gives what follows the probe.
func openBlock(b []byte) (day int64, probe sensors.ProbeID, d scanner, err error) {
	if len(b) < 10 || b[0] != 'L' || b[1] != 'W' {
		return 0, "", d, errors.New("it is not a block")
	}
	body := b[:len(b)-4]
	if binary.LittleEndian.Uint32(b[len(body):]) != crc32.Checksum(body, castagnoli) {
		return 0, "", d, errSum
	}
	if b[2] != blockVersion {
		return 0, "", d, fmt.Errorf("its version is %d, not %d", b[2], blockVersion)
	}
	d.b = body[3:]
	day = int64(d.uvarint())
	probe = sensors.ProbeID(d.text())
	return day, probe, d, d.err
}

// maxReadings of one probe and day is twelve a second: more is not a garden, and a bad count cannot ask for the memory of the board.
const maxReadings = 1 << 20

func (d *scanner) times(day int64) []int64 {
	n := d.uvarint()
	if n == 0 || d.err != nil {
		return nil
	}
	if n > maxReadings {
		d.cut()
		return nil
	}
	at := make([]int64, 1, min(n, 1<<11))
	at[0] = day*dayMS + int64(d.uvarint())
	for t := at[0]; len(at) < int(n); {
		step, k := int64(d.uvarint()), d.uvarint()
		if d.err != nil || k == 0 || k > n-uint64(len(at)) {
			d.cut()
			return nil
		}
		at = slices.Grow(at, int(k))
		run := at[len(at) : len(at)+int(k)]
		for i := range run {
			t += step
			run[i] = t
		}
		at = at[:len(at)+int(k)]
	}
	return at
}

func (d *scanner) runs(n int) []bool {
	k := d.count(2)
	if k == 0 {
		return nil
	}
	s := make([]bool, n)
	i := uint64(0)
	for range k {
		skip, run := d.uvarint(), d.uvarint()
		if skip > uint64(n) || run > uint64(n) || i+skip+run > uint64(n) {
			d.cut()
			return nil
		}
		for j := i + skip; j < i+skip+run; j++ {
			s[j] = true
		}
		i += skip + run
	}
	return s
}

// columnOf decodes a probe's block.
func columnOf(b []byte) (day int64, c *column, err error) {
	day, probe, d, err := openBlock(b)
	if err != nil {
		return 0, nil, err
	}
	c = &column{probe: probe}
	if c.step.Unit, err = units.FromSenML(d.text()); err != nil {
		return 0, nil, err
	}
	c.step.Num, c.step.Den = int32(d.varint()), int32(d.varint())
	c.at = d.times(day)
	c.suspect = d.runs(len(c.at))
	if d.err != nil || len(c.at) == 0 {
		return 0, nil, errCut
	}
	c.raw = make([]int64, len(c.at))
	c.raw[0] = d.varint()
	return day, c, decodeValues(d.b, c.raw)
}

// bareOf decodes a day's faults.
func bareOf(b []byte) (day int64, r *bare, err error) {
	day, probe, d, err := openBlock(b)
	if err != nil {
		return 0, nil, err
	}
	if probe != "" {
		return 0, nil, errors.New("it is a probe's block")
	}
	r = &bare{empty: d.times(day)}
	for range d.count(4) {
		f := faultRun{fault: sensors.Fault{Probe: sensors.ProbeID(d.text()), Kind: sensors.FaultKind(d.byte()), Why: d.text()}}
		f.at = d.times(day)
		r.runs = append(r.runs, f)
	}
	return day, r, d.end()
}

// add puts a reading into a column at its time; one that is there already stays as it was.
func (c *column) add(t, raw int64, suspect bool) bool {
	n := len(c.at)
	if (n == 0 || t > c.at[n-1]) && !suspect && c.suspect == nil {
		c.at, c.raw = append(c.at, t), append(c.raw, raw)
		return true
	}
	i, found := slices.BinarySearch(c.at, t)
	if found {
		return false
	}
	c.at, c.raw = slices.Insert(c.at, i, t), slices.Insert(c.raw, i, raw)
	if suspect && c.suspect == nil {
		c.suspect = make([]bool, len(c.at)-1, cap(c.at))
	}
	if c.suspect != nil {
		c.suspect = slices.Insert(c.suspect, i, suspect)
	}
	return true
}
