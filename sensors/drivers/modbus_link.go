package drivers

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"time"

	"github.com/simonvetter/modbus"
)

// open opens the way to the device. A device absent at start is normal: this is called again each round.
func (d *modbusDevice) open(ctx context.Context) (modbusLink, error) {
	of := d.of
	scheme, host := of.network()
	if scheme == "tcp" {
		return openModbusTCP(of)
	}
	r := &rtuLink{timeout: of.Timeout.Duration(), gap: rtuGap(of.Baud)}
	if scheme == "rtuovertcp" {
		conn, err := (&net.Dialer{Timeout: of.Timeout.Duration()}).DialContext(ctx, "tcp", host)
		if err != nil {
			return nil, fmt.Errorf("reaching %s: %w", host, err)
		}
		r.line = connLine{conn}
		return r, nil
	}
	if d.env.Serial == nil {
		return nil, fmt.Errorf("opening %s: no serial lines here", of.At)
	}
	line, err := d.env.Serial(of.At, SerialMode{Baud: of.Baud, DataBits: 8, Parity: parityLetter(of.Parity), StopBits: of.StopBits, Timeout: readSlice})
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", of.At, err)
	}
	r.line = line
	return r, nil
}

// readSlice is how long one read of a line waits; longer waits are made of slices, so that a cancelled round ends soon.
const readSlice = 50 * time.Millisecond

// tcpLink is Modbus TCP by the library: there each answer carries the number of its request, so a late one is not taken for
// another.
type tcpLink struct{ client *modbus.ModbusClient }

func openModbusTCP(of modbusTable) (modbusLink, error) {
	// The library writes to standard output unless given a logger.
	c, err := modbus.NewClient(&modbus.ClientConfiguration{URL: of.At, Timeout: of.Timeout.Duration(), Logger: log.New(io.Discard, "", 0)})
	if err == nil {
		err = c.Open()
	}
	if err != nil {
		return nil, fmt.Errorf("reaching %s: %w", of.At, err)
	}
	return tcpLink{c}, nil
}

func (l tcpLink) close() error { return l.client.Close() }

func (l tcpLink) ask(_ context.Context, q modbusAsk) ([]byte, error) {
	if err := l.client.SetUnitId(q.unit); err != nil {
		return nil, err
	}
	kind := modbus.HOLDING_REGISTER
	if q.function == 4 {
		kind = modbus.INPUT_REGISTER
	}
	words, err := l.client.ReadRegisters(q.first, q.count, kind)
	switch {
	case errors.Is(err, modbus.ErrRequestTimedOut), errors.Is(err, io.EOF):
		return nil, silent("no answer from unit %d", q.unit)
	case errors.Is(err, modbus.ErrIllegalDataAddress):
		return nil, refusal(2)
	case err != nil:
		return nil, garbled("%v", err)
	}
	var b []byte
	for _, w := range words {
		b = append(b, byte(w>>8), byte(w))
	}
	return b, nil
}

// connLine is a network connection used as a line.
type connLine struct{ net.Conn }

func (c connLine) Read(p []byte) (int, error) {
	c.SetReadDeadline(time.Now().Add(readSlice))
	n, err := c.Conn.Read(p)
	if ne := net.Error(nil); errors.As(err, &ne) && ne.Timeout() {
		err = nil
	}
	return n, err
}

func (c connLine) Write(p []byte) (int, error) {
	c.SetWriteDeadline(time.Now().Add(time.Second))
	return c.Conn.Write(p)
}

// Flush drops what lies waiting.
func (c connLine) Flush() error {
	var b [256]byte
	for {
		c.SetReadDeadline(time.Now().Add(time.Millisecond))
		if n, err := c.Conn.Read(b[:]); n == 0 || err != nil {
			if ne := net.Error(nil); errors.As(err, &ne) && ne.Timeout() {
				err = nil
			}
			return err
		}
	}
}

func (c connLine) Break(time.Duration) error { return errors.ErrUnsupported }
