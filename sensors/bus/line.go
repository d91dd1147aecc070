package bus

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"go.bug.st/serial"

	"lathwatch/sensors/drivers"
)

// reopenPause is how long a line that cannot be opened is left alone, so that an adapter pulled out costs no work.
const reopenPause = 5 * time.Second

// A line is a lent serial line. It opens when used, by the path it was given: a path in /dev/serial/by-id finds the adapter
// again under whatever number it comes back. Closing it, or any error, drops the port; the next use opens it again.
type line struct {
	path string
	mode drivers.SerialMode
	open func() (drivers.Line, error)

	mu      sync.Mutex
	port    drivers.Line
	retryAt time.Time
	why     error
	closed  bool
}

// use gives the open port, opening it if it is time to.
func (l *line) use() (drivers.Line, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closed {
		return nil, fmt.Errorf("line %s: %w", l.path, errClosed)
	}
	if l.port != nil {
		return l.port, nil
	}
	if time.Now().Before(l.retryAt) {
		return nil, l.why
	}
	p, err := l.open()
	if err != nil {
		l.why = fmt.Errorf("opening line %s: %w", l.path, err)
		l.retryAt = time.Now().Add(reopenPause)
		return nil, l.why
	}
	l.port = p
	return p, nil
}

// do runs one call on the port and drops it on an error.
func (l *line) do(what string, call func(drivers.Line) error) error {
	p, err := l.use()
	if err != nil {
		return err
	}
	if err := call(p); err != nil {
		l.drop(p)
		return fmt.Errorf("%s line %s: %w", what, l.path, err)
	}
	return nil
}

func (l *line) drop(p drivers.Line) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.port == p && p != nil {
		p.Close() // its error would only repeat what is known
		l.port = nil
	}
}

func (l *line) Read(b []byte) (n int, err error) {
	err = l.do("reading", func(p drivers.Line) (err error) { n, err = p.Read(b); return err })
	return n, err
}

func (l *line) Write(b []byte) (n int, err error) {
	err = l.do("writing", func(p drivers.Line) (err error) { n, err = p.Write(b); return err })
	return n, err
}

func (l *line) Break(d time.Duration) error {
	return l.do("breaking", func(p drivers.Line) error { return p.Break(d) })
}

func (l *line) Flush() error {
	return l.do("flushing", func(p drivers.Line) error { return p.Flush() })
}

// Close drops the port; the borrower may use the line again.
func (l *line) Close() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.port == nil {
		return nil
	}
	err := l.port.Close()
	l.port = nil
	return err
}

// shut closes the line for good.
func (l *line) shut() error {
	err := l.Close()
	l.mu.Lock()
	defer l.mu.Unlock()
	l.closed = true
	return err
}

// openLine opens a port of this board. The modem lines are left as they are: asking for a state of theirs fails on lines that
// have none.
func openLine(path string, m drivers.SerialMode) (drivers.Line, error) {
	mode := &serial.Mode{BaudRate: m.Baud, DataBits: m.DataBits}
	switch m.Parity {
	case 'E':
		mode.Parity = serial.EvenParity
	case 'O':
		mode.Parity = serial.OddParity
	}
	if m.StopBits == 2 {
		mode.StopBits = serial.TwoStopBits
	}
	p, err := serial.Open(path, mode)
	if err != nil {
		return nil, err
	}
	if err := p.SetReadTimeout(m.Timeout); err != nil {
		return nil, errors.Join(err, p.Close())
	}
	return port{p}, nil
}

// A port is the library's port under the names of a Line.
type port struct{ serial.Port }

func (p port) Flush() error { return p.ResetInputBuffer() }

func modeText(m drivers.SerialMode) string {
	return fmt.Sprintf("%d %d%c%d", m.Baud, m.DataBits, m.Parity, m.StopBits)
}
