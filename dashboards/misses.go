package dashboards

import (
	"context"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"
)

// misses slows down guessing: after each wrong passphrase an address waits twice as long, up to a minute; and all addresses
// together may miss only so often.
type misses struct {
	mu   sync.Mutex
	from map[string]miss // guarded by mu
	all  miss            // guarded by mu
}

type miss struct {
	n    int
	last time.Time
}

const (
	freeMisses   = 3
	missLonger   = time.Minute
	missForget   = 15 * time.Minute
	allFree      = 30 // misses of everybody in a row before everybody waits
	maxAddresses = 1024
)

func newMisses() *misses { return &misses{from: map[string]miss{}} }

func (m miss) wait(free int, now time.Time) time.Duration {
	if m.n < free || now.Sub(m.last) > missForget {
		return 0
	}
	need := min(time.Second<<min(m.n-free, 10), missLonger)
	return max(need-now.Sub(m.last), 0)
}

// wait says how long an address must wait before its next guess.
func (ms *misses) wait(addr string, now time.Time) time.Duration {
	ms.mu.Lock()
	defer ms.mu.Unlock()
	return max(ms.from[addr].wait(freeMisses, now), ms.all.wait(allFree, now))
}

func (ms *misses) missed(addr string, now time.Time) {
	ms.mu.Lock()
	defer ms.mu.Unlock()
	if len(ms.from) >= maxAddresses {
		for a, m := range ms.from { // order does not matter: everything old goes
			if now.Sub(m.last) > missForget {
				delete(ms.from, a)
			}
		}
	}
	if len(ms.from) < maxAddresses || ms.from[addr].n > 0 {
		ms.from[addr] = ms.from[addr].one(now)
	}
	ms.all = ms.all.one(now)
}

func (m miss) one(now time.Time) miss {
	if now.Sub(m.last) > missForget {
		m.n = 0
	}
	return miss{m.n + 1, now}
}

func (ms *misses) hit(addr string) {
	ms.mu.Lock()
	defer ms.mu.Unlock()
	delete(ms.from, addr)
	ms.all.n = 0
}

// peer is the address the request came from; an IPv6 host counts by its /64, which is one household.
func peer(r *http.Request) string {
	return household(r.RemoteAddr)
}

// household is what an address counts as.
func household(addr string) string {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return addr
	}
	if a, err := netip.ParseAddr(host); err == nil && a.Is6() && !a.Is4In6() {
		if p, err := a.WithZone("").Prefix(64); err == nil {
			return p.String()
		}
	}
	return host
}

// shortMemory keeps sessions until the process ends.
type shortMemory struct {
	mu   sync.Mutex
	open map[[32]byte]time.Time // guarded by mu
}

func newShortMemory() *shortMemory { return &shortMemory{open: map[[32]byte]time.Time{}} }

func (s *shortMemory) Session(_ context.Context, h [32]byte) (time.Time, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.open[h], nil
}

func (s *shortMemory) KeepSession(_ context.Context, h [32]byte, until time.Time) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.open[h] = until
	return nil
}

func (s *shortMemory) DropSession(_ context.Context, h [32]byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.open, h)
	return nil
}
