package broker

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"time"
)

const (
	writeLimit  = 10 * time.Second // of one write to a client
	acceptPause = time.Second
)

// door is the broker's listener. The library gives up listening at the first error of Accept, for instance when the program
// is out of file descriptors for a moment: the door tries again until it is closed.
type door struct {
	net.Listener
	log *slog.Logger
}

func (d *door) Accept() (net.Conn, error) {
	for {
		c, err := d.Listener.Accept()
		if err == nil {
			return client{c}, nil
		}
		if errors.Is(err, net.ErrClosed) {
			return nil, err
		}
		d.log.Warn("letting a client in", "err", err)
		time.Sleep(acceptPause)
	}
}

// client is a connection whose writes end: the library sets no limit of its own while a client reads nothing.
type client struct{ net.Conn }

func (c client) Write(b []byte) (int, error) {
	if err := c.SetWriteDeadline(time.Now().Add(writeLimit)); err != nil {
		return 0, err
	}
	return c.Conn.Write(b)
}

// discard makes the next Close drop what was written and not taken, instead of keeping it in the kernel.
func (c client) discard() {
	if tcp, ok := c.Conn.(*net.TCPConn); ok {
		_ = tcp.SetLinger(0)
	}
}

// quieter passes on warnings and worse as what they are to us: a client's trouble is worth a line for whoever looks, no more.
type quieter struct{ slog.Handler }

func (q quieter) Enabled(ctx context.Context, l slog.Level) bool {
	return l >= slog.LevelWarn && q.Handler.Enabled(ctx, slog.LevelDebug)
}

func (q quieter) Handle(ctx context.Context, r slog.Record) error {
	if r.Level == slog.LevelWarn {
		r.Level = slog.LevelDebug
	}
	return q.Handler.Handle(ctx, r)
}

func (q quieter) WithAttrs(a []slog.Attr) slog.Handler { return quieter{q.Handler.WithAttrs(a)} }
func (q quieter) WithGroup(n string) slog.Handler      { return quieter{q.Handler.WithGroup(n)} }
