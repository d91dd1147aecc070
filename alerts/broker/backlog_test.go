package broker

import (
	"net"
	"sync/atomic"
	"testing"
)

// Readers who take nothing hold a bounded heap between them, and are let go before one who hardly lags.
func TestManySleepersShareOneBacklog(t *testing.T) {
	var waiting atomic.Int64
	sleepers := make([]*client, maxClients-1)
	for i := range sleepers {
		a, b := net.Pipe()
		t.Cleanup(func() { a.Close(); b.Close() })
		sleepers[i] = &client{Conn: a, wake: make(chan struct{}, 1), all: &waiting}
	}
	a, b := net.Pipe()
	t.Cleanup(func() { a.Close(); b.Close() })
	brisk := &client{Conn: a, wake: make(chan struct{}, 1), all: &waiting}
	packet := make([]byte, 16<<10)
	gone := 0
	for range 2 * backlog / len(packet) {
		for i, c := range sleepers {
			if c == nil {
				continue
			}
			if _, err := c.Write(packet); err != nil {
				sleepers[i], gone = nil, gone+1
			}
		}
		if _, err := brisk.Write(packet); err != nil {
			t.Fatalf("one that reads was let go: %v", err)
		}
		brisk.mu.Lock()
		waiting.Add(-int64(len(brisk.out))) // as its writer does
		brisk.out = nil
		brisk.mu.Unlock()
		if n := waiting.Load(); n > backlogAll+maxClients*int64(len(packet)) {
			t.Fatalf("%d bytes wait", n)
		}
	}
	if gone != len(sleepers) || waiting.Load() != 0 {
		t.Errorf("%d of %d sleepers were let go, %d bytes still count", gone, len(sleepers), waiting.Load())
	}
}
