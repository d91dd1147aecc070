package dashboards

import (
	"net"
	"net/netip"
	"sync"
)

// How many may stand at the door at once. A browser opens six connections to a host at most (common practice, no source), so a
// household fits many times over; each connection costs a small board some 50 KB.
const (
	maxConns    = 256 // of all
	maxConnsOne = 64  // of one address; an IPv6 host counts by its /64. This board's own have no such limit: a server in front is one address
	maxFeeds    = 128 // live feeds: each looks at the newest standing every two seconds
)

// crowd is a listener that hangs up on whoever comes when it is full.
type crowd struct {
	net.Listener
	all, one int

	mu   sync.Mutex
	n    int            // guarded by mu
	from map[string]int // guarded by mu
}

func newCrowd(ln net.Listener, all, one int) *crowd {
	return &crowd{Listener: ln, all: all, one: one, from: map[string]int{}}
}

// Accept gives the next connection there is room for.
func (c *crowd) Accept() (net.Conn, error) {
	for {
		conn, err := c.Listener.Accept()
		if err != nil {
			return nil, err
		}
		addr := conn.RemoteAddr().String()
		key := household(addr)
		if c.enter(key, ownBoard(addr)) {
			return &guest{Conn: conn, leave: sync.OnceFunc(func() { c.left(key) })}, nil
		}
		conn.Close()
	}
}

func (c *crowd) enter(key string, own bool) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.n >= c.all || !own && c.from[key] >= c.one {
		return false
	}
	c.n++
	c.from[key]++
	return true
}

func (c *crowd) left(key string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.n--
	if c.from[key]--; c.from[key] == 0 {
		delete(c.from, key)
	}
}

// guest is a connection that makes room when it is closed.
type guest struct {
	net.Conn
	leave func()
}

// Close hangs up.
func (g *guest) Close() error {
	defer g.leave()
	return g.Conn.Close()
}

func ownBoard(addr string) bool {
	ap, err := netip.ParseAddrPort(addr)
	return err == nil && ap.Addr().Unmap().IsLoopback()
}
