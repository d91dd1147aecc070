package broker

import (
	"context"
	"fmt"
	"io"
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

// TestAClientSaysNoMoreThanItMay: a packet beyond 64 KiB ends its connection, and of clients that have greeted only so many are kept.
func TestAClientSaysNoMoreThanItMay(t *testing.T) {
	b, err := New(Config{Broker: garden.Broker{Listen: "127.0.0.1:0"}, Site: "elderbank"})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	over := make(chan error, 1)
	go func() { over <- b.Run(ctx) }()
	t.Cleanup(func() { cancel(); <-over })
	greet := func(id string) (net.Conn, bool) { // and whether the broker said yes (MQTT 3.1.1 section 3.2)
		c, err := net.Dial("tcp", b.Addr())
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Close() })
		_, _ = c.Write([]byte("\x10\x10\x00\x04MQTT\x04\x02\x00\x00\x00\x04" + id))
		_ = c.SetReadDeadline(time.Now().Add(10 * time.Second))
		answer := make([]byte, 4)
		_, err = io.ReadFull(c, answer)
		return c, err == nil && string(answer) == "\x20\x02\x00\x00"
	}
	for name, size := range map[string]int{"as much as it may, its head counted": maxPacket - 4, "one byte more": maxPacket + 1} {
		c, ok := greet("long")
		if !ok {
			t.Fatal("no greeting")
		}
		// a publication of QoS 0 to a topic nobody may write to, then a ping: whoever is still connected is answered
		body := append([]byte("\x00\x01x"), make([]byte, size-3)...)
		_, _ = c.Write(append([]byte{0x30, byte(size&0x7f | 0x80), byte(size>>7&0x7f | 0x80), byte(size >> 14)}, body...))
		_, _ = c.Write([]byte("\xc0\x00"))
		answer := make([]byte, 2)
		if _, err := io.ReadFull(c, answer); (err == nil && string(answer) == "\xd0\x00") != (size <= maxPacket) {
			t.Errorf("%s: %q, %v", name, answer, err)
		}
		c.Close()
	}
	for end := time.Now().Add(10 * time.Second); b.server.Info.Clone().ClientsConnected > 1 && time.Now().Before(end); { // the daemon's own is one
		time.Sleep(5 * time.Millisecond)
	}
	in := 0
	for i := range maxClients + 8 {
		if _, ok := greet(fmt.Sprintf("c%03d", i)); ok {
			in++
		}
	}
	if in > maxClients || in < maxClients-2 {
		t.Errorf("%d clients were let in, %d may be", in, maxClients)
	}
}
