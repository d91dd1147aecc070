package broker

import (
	"errors"
	"net"
	"sync"
	"sync/atomic"
	"time"
)

const (
	writeLimit = 20 * time.Second // of one write to a client
	lastWords  = 2 * time.Second  // to write what is left when a connection is closed
	backlog    = 1 << 20          // bytes waiting for a slow reader before it is let go: more than every state of a large garden
	backlogAll = 32 << 20         // bytes waiting for all of them: beyond that a reader is let go for much less
	backlogFew = 64 << 10
)

var errSlow = errors.New("the client does not read what is sent")

// client is a connection whose Write never waits. The library holds a client's lock while it writes, and whoever publishes
// takes that lock: one reader that stands still would hold up the daemon.
type client struct {
	net.Conn
	wake chan struct{}
	all  *atomic.Int64 // bytes waiting for any client

	mu     sync.Mutex // guards what follows
	out    []byte     // not yet written
	closed bool
}

// Write queues b for the writer. A reader that lets too much pile up is let go: when it comes back it gets every state anew.
func (c *client) Write(b []byte) (int, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		return 0, net.ErrClosed
	}
	if n := len(c.out) + len(b); n > backlog || n > backlogFew && c.all.Load() > backlogAll {
		c.drop()
		return 0, errSlow
	}
	c.out = append(c.out, b...)
	c.all.Add(int64(len(b)))
	c.signal()
	return len(b), nil
}

// Close lets the writer write what is left and then end the connection; reading ends at once.
func (c *client) Close() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		return nil
	}
	c.closed = true
	c.signal()
	_ = c.Conn.SetWriteDeadline(time.Now().Add(lastWords))
	return c.Conn.SetReadDeadline(time.Now())
}

// SetDeadline is for reading only: the writer has limits of its own.
func (c *client) SetDeadline(t time.Time) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.closed {
		return nil
	}
	return c.Conn.SetReadDeadline(t)
}

// discard ends the connection without its last words.
func (c *client) discard() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.drop()
}

// drop throws away what was not written, also by the kernel. The lock is held.
func (c *client) drop() {
	if tcp, ok := c.Conn.(*net.TCPConn); ok {
		_ = tcp.SetLinger(0)
	}
	c.all.Add(-int64(len(c.out)))
	c.closed, c.out = true, nil
	_ = c.Conn.Close()
	c.signal()
}

func (c *client) signal() {
	select {
	case c.wake <- struct{}{}:
	default:
	}
}

// writer writes until the connection is closed or fails.
func (c *client) writer() {
	defer c.Conn.Close()
	for range c.wake {
		c.mu.Lock()
		out, closed := c.out, c.closed
		c.out = nil
		c.mu.Unlock()
		limit := writeLimit
		if closed {
			limit = lastWords
		}
		if len(out) > 0 {
			_ = c.Conn.SetWriteDeadline(time.Now().Add(limit))
			_, err := c.Conn.Write(out)
			c.all.Add(-int64(len(out)))
			if err != nil {
				c.discard()
				return
			}
		}
		if closed {
			return
		}
	}
}
