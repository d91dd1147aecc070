package drivers

import (
	"bytes"
	"context"
	"fmt"
	"time"
)

// rtuLink speaks the RTU framing of "MODBUS over Serial Line" V1.02 on a line: address, function, data, CRC. Frames carry no
// number, so what is left in the line is dropped before each request, and unit, function and length of an answer are held
// against the request.
type rtuLink struct {
	line    Line
	timeout time.Duration
	gap     time.Duration
}

// rtuGap is the silence before a frame: 3.5 characters of 11 bits, 1.75 ms above 19200 baud (section 2.5.1.1).
func rtuGap(baud int) time.Duration {
	if baud > 19200 {
		return 1750 * time.Microsecond
	}
	return 35 * 11 * time.Second / time.Duration(10*baud)
}

func (l *rtuLink) close() error { return l.line.Close() }

func (l *rtuLink) ask(ctx context.Context, q modbusAsk) ([]byte, error) {
	if err := pause(ctx, l.gap); err != nil {
		return nil, err
	}
	if err := l.line.Flush(); err != nil {
		return nil, fmt.Errorf("flushing the line: %w", err)
	}
	request := q.frame()
	if _, err := l.line.Write(request); err != nil {
		return nil, fmt.Errorf("writing to the line: %w", err)
	}
	got, err := l.listen(ctx, request)
	if err != nil {
		return nil, err
	}
	return rtuData(q, got)
}

// listen reads until an answer is whole or the time is up.
func (l *rtuLink) listen(ctx context.Context, request []byte) ([]byte, error) {
	end := time.Now().Add(l.timeout)
	var got []byte
	for len(got) < rtuWhole(request, got) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if !time.Now().Before(end) {
			if len(got) > 0 {
				return got, nil
			}
			return nil, silent("no answer in %s", l.timeout)
		}
		var b [256]byte
		n, err := l.line.Read(b[:])
		if err != nil {
			return nil, fmt.Errorf("reading the line: %w", err)
		}
		got = append(got, b[:n]...)
	}
	return got, nil
}

// frame is the request as sent.
func (q modbusAsk) frame() []byte {
	f := []byte{q.unit, q.function, byte(q.first >> 8), byte(q.first), byte(q.count >> 8), byte(q.count)}
	crc := crcModbus(f)
	return append(f, byte(crc), byte(crc>>8))
}

// rtuWhole is how many bytes a frame that begins with got will have.
func rtuWhole(request, got []byte) int {
	switch {
	case len(got) < 3:
		return 5
	case bytes.HasPrefix(request, got):
		return len(request) // so far it is our own request coming back
	case got[1]&0x80 != 0:
		return 5
	}
	return 5 + int(got[2])
}

// rtuData takes an answer apart and gives the bytes of its registers.
func rtuData(q modbusAsk, got []byte) ([]byte, error) {
	if bytes.HasPrefix(got, q.frame()) {
		return nil, garbled("the adapter sends our own request back: switch its echo off or use another")
	}
	whole := rtuWhole(nil, got)
	if len(got) < whole {
		return nil, garbled("the answer breaks off after %d bytes of %d", len(got), whole)
	}
	frame := got[:whole]
	if crc := crcModbus(frame[:whole-2]); frame[whole-2] != byte(crc) || frame[whole-1] != byte(crc>>8) {
		return nil, garbled("checksum")
	}
	switch {
	case len(got) > whole:
		return nil, garbled("%d bytes too many: do two devices share an address?", len(got)-whole)
	case frame[0] != q.unit:
		return nil, garbled("unit %d answers in place of unit %d", frame[0], q.unit)
	case frame[1] == q.function|0x80:
		return nil, refusal(frame[2])
	case frame[1] != q.function:
		return nil, garbled("an answer to function %d, not %d", frame[1], q.function)
	case int(frame[2]) != 2*int(q.count):
		return nil, garbled("%d bytes for %d registers", frame[2], q.count)
	}
	return frame[3 : whole-2], nil
}

// refusal is an exception of the device ("MODBUS Application Protocol" V1.1b3, section 7).
func refusal(code byte) error {
	switch code {
	case 1:
		return garbled("the device does not know this function")
	case 2:
		return garbled("the device has no such register: is its document counted from 1?")
	case 4:
		return garbled("the device reports its own failure")
	case 6:
		return garbled("the device is busy")
	}
	return garbled("the device refuses with code %d", code)
}
