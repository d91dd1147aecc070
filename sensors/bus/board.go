package bus

import (
	"errors"
	"fmt"
	"path/filepath"
	"sync"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/host/v3/sysfs"

	"lathwatch/sensors/drivers"
)

// Options say where the board is and who is told. The zero value is this board and nobody.
type Options struct {
	Root   string                 // "" or "/" is this board; a fake tree in tests
	Notice func(bus, text string) // tells the keeper of a wedged bus; may be nil
	// OpenI2C opens a bus by number; nil is the board's own. OpenLine opens a serial line; nil is the board's own.
	OpenI2C  func(number int) (i2c.BusCloser, error)
	OpenLine func(path string, m drivers.SerialMode) (drivers.Line, error)
}

// A Board has the buses. Each is opened once, whoever borrows it. Its methods may be called from several goroutines.
type Board struct {
	o Options

	mu     sync.Mutex
	i2c    map[int]*Guard
	lines  map[string]*line
	closed bool
}

// New is a board whose buses are all still closed.
func New(o Options) *Board {
	b := &Board{o: o, i2c: map[int]*Guard{}, lines: map[string]*line{}}
	if b.o.OpenI2C == nil {
		b.o.OpenI2C = b.sysfs
	}
	if b.o.OpenLine == nil {
		b.o.OpenLine = openLine
	}
	return b
}

// errClosed is what a lent bus says after Close.
var errClosed = errors.New("the board is closed")

// I2C lends bus i2c-<number>. It need not exist yet: each transfer tries to open it until it does.
func (b *Board) I2C(number int) (i2c.Bus, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.closed {
		return nil, errClosed
	}
	if g := b.i2c[number]; g != nil {
		return owned{g, b, number}, nil
	}
	name := fmt.Sprintf("i2c-%d", number)
	g := &Guard{Name: name, Open: func() (i2c.BusCloser, error) { return b.o.OpenI2C(number) }, Notice: b.o.Notice}
	b.i2c[number] = g
	return owned{g, b, number}, nil
}

// Serial lends a serial line. It need not exist yet. Two borrowers must agree on how it is set.
func (b *Board) Serial(path string, m drivers.SerialMode) (drivers.Line, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.closed {
		return nil, errClosed
	}
	l := b.lines[path]
	if l == nil {
		l = &line{path: path, mode: m, open: func() (drivers.Line, error) { return b.o.OpenLine(b.path(path), m) }}
		b.lines[path] = l
	}
	if l.mode != m {
		return nil, fmt.Errorf("line %s cannot be set two ways: %s and %s", path, modeText(l.mode), modeText(m))
	}
	return l, nil
}

// Close closes every bus for good.
func (b *Board) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.closed = true
	var errs []error
	for _, g := range b.i2c {
		errs = append(errs, g.Close())
	}
	for _, l := range b.lines {
		errs = append(errs, l.shut())
	}
	return errors.Join(errs...)
}

func (b *Board) path(parts ...string) string {
	root := b.o.Root
	if root == "" {
		root = "/"
	}
	return filepath.Join(append([]string{root}, parts...)...)
}

// sysfs opens a bus of this board; a fake tree has none of its own.
func (b *Board) sysfs(number int) (i2c.BusCloser, error) {
	if r := b.o.Root; r != "" && r != "/" {
		return nil, fmt.Errorf("i2c-%d: %s is no board", number, r)
	}
	return sysfs.NewI2C(number)
}
