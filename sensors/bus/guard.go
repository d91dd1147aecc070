package bus

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// ErrWedged is wrapped by the error of a transfer that was not tried because the bus is held low or has stopped answering.
var ErrWedged = errors.New("the bus is wedged")

const (
	wedgedAfter = 3           // timeouts in a row, whatever the chip: one chip that holds the line stops them all
	idleRetry   = time.Minute // between tries on a wedged bus
)

// A Guard is an I2C bus that opens when used and looks after itself. A bus that is gone is opened again at the next transfer.
// A bus on which everything times out is closed and opened once; if that does not help it is left alone but for one try a
// minute, and the keeper is told once, not once a chip.
type Guard struct {
	Name   string
	Open   func() (i2c.BusCloser, error)
	Notice func(bus, text string) // may be nil

	mu      sync.Mutex
	bus     i2c.BusCloser
	late    int // timeouts in a row
	wedged  bool
	told    bool
	retryAt time.Time
	closed  bool
}

func (g *Guard) String() string { return g.Name }

// SetSpeed always fails: the bus speed is the boot configuration's.
func (g *Guard) SetSpeed(physic.Frequency) error {
	return fmt.Errorf("%s: the speed is set in the boot configuration", g.Name)
}

// Tx does one transfer. Its errors name the bus.
func (g *Guard) Tx(addr uint16, w, r []byte) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.closed {
		return fmt.Errorf("%s: %w", g.Name, errClosed)
	}
	if g.wedged && time.Now().Before(g.retryAt) {
		return fmt.Errorf("%s: %w: next try in %s", g.Name, ErrWedged, time.Until(g.retryAt).Round(time.Second))
	}
	if g.bus == nil {
		b, err := g.Open()
		if err != nil {
			return fmt.Errorf("opening %s: %w", g.Name, err)
		}
		g.bus = b
	}
	err := g.bus.Tx(addr, w, r)
	g.judge(err)
	if err != nil {
		return fmt.Errorf("%s 0x%02x: %w", g.Name, addr, err)
	}
	return nil
}

// judge learns from a transfer's outcome. Only the text tells kinds of error apart: the library wraps none.
func (g *Guard) judge(err error) {
	if err == nil || !timedOut(err) {
		// An answer, or a plain "nobody there": the lines themselves work.
		g.late = 0
		if g.told {
			g.tell("answers again")
		}
		g.wedged, g.told = false, false
		if err != nil && vanished(err) {
			g.reopen()
		}
		return
	}
	g.late++
	if g.wedged {
		g.reopen()
		g.retryAt = time.Now().Add(idleRetry)
		return
	}
	if g.late < wedgedAfter {
		return
	}
	g.reopen()
	if g.late > wedgedAfter { // opening it afresh did not help
		g.wedged, g.retryAt = true, time.Now().Add(idleRetry)
		return
	}
	g.told = true
	g.tell("nothing on this bus answers in time: a chip holds the line, or a wire is off; it is tried again each minute")
}

func (g *Guard) tell(text string) {
	if g.Notice != nil {
		g.Notice(g.Name, text)
	}
}

func (g *Guard) reopen() {
	if g.bus != nil {
		g.bus.Close() // a bus that is gone has nothing to say about being closed
	}
	g.bus = nil
}

// Close closes the bus for good.
func (g *Guard) Close() error {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.closed = true
	if g.bus == nil {
		return nil
	}
	err := g.bus.Close()
	g.bus = nil
	return err
}

func timedOut(err error) bool {
	text := err.Error()
	return strings.Contains(text, "timed out") || strings.Contains(text, "timeout")
}

// vanished reports errors of a bus that is gone rather than of a chip: an adapter pulled out, a driver unloaded.
func vanished(err error) bool {
	text := err.Error()
	for _, s := range []string{"no such device", "bad file descriptor", "file already closed", "input/output error"} {
		if strings.Contains(text, s) && !strings.Contains(text, "no such device or address") { // a chip that does not answer
			return true
		}
	}
	return false
}
