package broker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"sync"
	"sync/atomic"
	"time"

	"github.com/mochi-mqtt/server/v2/listeners"
)

const (
	helloLimit  = 5 * time.Second // until a client has said what it is: the library sets none before that
	acceptPause = time.Second
	// maxDoor is how many connections there may be, greeted or not: the library counts only those that have said what they are.
	maxDoor = 2 * maxClients
)

// door is the broker's listener. The library's own gives up at the first error of Accept, for instance when the program is out
// of file descriptors for a moment: this one tries again. It also knows who is in and can wait until the last has left, which
// the library's way to end does not do safely.
type door struct {
	l       net.Listener
	log     *slog.Logger
	clients sync.WaitGroup // one for each connection's reading and one for its writing
	waiting atomic.Int64   // bytes not yet written, of all clients

	mu   sync.Mutex // guards what follows
	shut bool
	in   map[*client]bool
}

var _ listeners.Listener = (*door)(nil)

func newDoor(address string, log *slog.Logger) (*door, error) {
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("opening the broker's door: %w", err)
	}
	return &door{l: l, log: log, in: map[*client]bool{}}, nil
}

// ID, Address, Protocol, Init and Close are what the library asks of a listener.
func (d *door) ID() string              { return "door" }
func (d *door) Address() string         { return d.l.Addr().String() }
func (d *door) Protocol() string        { return "tcp" }
func (d *door) Init(*slog.Logger) error { return nil }
func (d *door) Close(listeners.CloseFn) { d.close() }

// Serve lets clients in until the door is shut.
func (d *door) Serve(establish listeners.EstablishFn) {
	for {
		c, err := d.l.Accept()
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			d.log.Warn("letting a client in", "err", err)
			time.Sleep(acceptPause)
			continue
		}
		_ = c.SetReadDeadline(time.Now().Add(helloLimit))
		d.admit(c, establish)
	}
}

// admit notes who is in and starts its reading and writing.
func (d *door) admit(c net.Conn, establish listeners.EstablishFn) {
	cl := &client{Conn: c, wake: make(chan struct{}, 1), all: &d.waiting}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.shut || len(d.in) >= maxDoor {
		_ = c.Close()
		return
	}
	d.in[cl] = true
	d.clients.Go(func() {
		cl.writer()
		d.mu.Lock()
		defer d.mu.Unlock()
		delete(d.in, cl)
	})
	d.clients.Go(func() {
		if err := establish(d.ID(), cl); err != nil {
			d.log.Debug("a client has left", "why", err)
		}
	})
}

// close shuts the door, ends every connection and waits until all have left.
func (d *door) close() {
	d.mu.Lock()
	d.shut = true
	_ = d.l.Close()
	for cl := range d.in {
		_ = cl.Close()
	}
	d.mu.Unlock()
	d.clients.Wait()
}

// quieter passes on what is worse than a client's own trouble, and that only for whoever looks.
type quieter struct{ slog.Handler }

func (q quieter) Enabled(ctx context.Context, l slog.Level) bool {
	return l >= slog.LevelError && q.Handler.Enabled(ctx, l) || l == slog.LevelWarn && q.Handler.Enabled(ctx, slog.LevelDebug)
}

func (q quieter) Handle(ctx context.Context, r slog.Record) error {
	if r.Level == slog.LevelWarn {
		r.Level = slog.LevelDebug
	}
	return q.Handler.Handle(ctx, r)
}

func (q quieter) WithAttrs(a []slog.Attr) slog.Handler { return quieter{q.Handler.WithAttrs(a)} }
func (q quieter) WithGroup(n string) slog.Handler      { return quieter{q.Handler.WithGroup(n)} }
