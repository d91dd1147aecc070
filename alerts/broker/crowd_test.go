package broker

import (
	"context"
	"net"
	"testing"
	"time"

	"lathwatch/sensors/garden"
)

// TestAFullDoorHangsUp: connections that have not yet said what they are count as well, and go after five seconds.
func TestAFullDoorHangsUp(t *testing.T) {
	b, err := New(Config{Broker: garden.Broker{Listen: "127.0.0.1:0"}, Site: "elderbank"})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	over := make(chan error, 1)
	go func() { over <- b.Run(ctx) }()
	t.Cleanup(func() { cancel(); <-over })
	var held []net.Conn
	for range maxDoor {
		c, err := net.Dial("tcp", b.Addr())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		held = append(held, c)
	}
	for end := time.Now().Add(4 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		b.door.mu.Lock()
		n := len(b.door.in)
		b.door.mu.Unlock()
		if n == maxDoor {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("%d of %d connections are held", n, maxDoor)
		}
	}
	c, err := net.Dial("tcp", b.Addr())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	_ = c.SetReadDeadline(time.Now().Add(2 * time.Second))
	if _, err := c.Read(make([]byte, 1)); err == nil || isTimeout(err) {
		t.Errorf("one more than %d was let in: %v", len(held), err)
	}
}

func isTimeout(err error) bool { ne, ok := err.(net.Error); return ok && ne.Timeout() }
