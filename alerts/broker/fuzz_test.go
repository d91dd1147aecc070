package broker

import (
	"context"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"

	"lathwatch/sensors/garden"
)

// matches is MQTT 3.1.1 section 4.7 written down level by level, for a topic without wildcards.
func matches(filter, topic []string) bool {
	switch {
	case len(filter) == 0:
		return len(topic) == 0
	case filter[0] == "#":
		return true
	case len(topic) == 0:
		return false
	}
	return (filter[0] == "+" || filter[0] == topic[0]) && matches(filter[1:], topic[1:])
}

func lawfulFilter(s string) bool {
	if s == "" || len(s) > 65535 || strings.Contains(s, "\x00") {
		return false
	}
	parts := strings.Split(s, "/")
	for i, p := range parts {
		if p != "+" && p != "#" && strings.ContainsAny(p, "+#") || p == "#" && i != len(parts)-1 {
			return false
		}
	}
	return true
}

// FuzzFilter: our own check of a filter and of who may publish where agrees with the standard's rules and with the library's index.
func FuzzFilter(f *testing.F) {
	for _, p := range [][2]string{{"nodes/+/soil", "nodes/7/soil"}, {"#", "a"}, {"a/#", "a"}, {"a/#", "a/b/c"}, {"+", ""}, {"a+/b", "a+/b"}, {"/", "//"}, {"$SYS/#", "$SYS/x"}, {"a/#/b", "a/x/b"},
		{"$share/g/a", "a"}, {"a\x00", "a\x00"}, {"lathwatch/elderbank/note", "lathwatch/elderbank/note/x"}} {
		f.Add(p[0], p[1])
	}
	f.Fuzz(func(t *testing.T, filter, topic string) {
		if validFilter(filter) != lawfulFilter(filter) {
			t.Fatalf("filter %q: %v", filter, validFilter(filter))
		}
		wild := strings.ContainsAny(topic, "+#")
		if !lawfulFilter(filter) {
			return
		}
		want := !wild && matches(strings.Split(filter, "/"), strings.Split(topic, "/"))
		if got := covers(filter, topic); got != want {
			t.Errorf("filter %q covers topic %q: %v", filter, topic, got)
		}
		g := &guard{inlets: []string{filter}, hash: &hash{}, user: "keeper"}
		if g.OnACLCheck(&mqtt.Client{Properties: mqtt.ClientProperties{Username: []byte("keeper")}}, topic, true) && (wild || topic == "" || strings.Contains(topic, "\x00") || strings.HasPrefix(topic, "$")) {
			t.Errorf("an inlet %q lets %q be published to", filter, topic)
		}
		if wild || topic == "" || strings.HasPrefix(topic, "$") || strings.HasPrefix(filter, "$") || strings.Contains(topic, "\x00") {
			return
		}
		if stem, tail := strings.CutSuffix(filter, "/#"); tail && strings.ContainsAny(stem, "+") {
			return // the library forgets that "+/#" takes the level above as well (section 4.7.1.2)
		}
		x := mqtt.NewTopicsIndex()
		x.Subscribe("reader", packets.Subscription{Filter: filter})
		if lib := len(x.Subscribers(topic).Subscriptions) > 0; lib != want {
			t.Errorf("filter %q, topic %q: ours %v, the library's %v", filter, topic, want, lib)
		}
	})
}

// FuzzConnection: whatever bytes a stranger sends, before or after a greeting without the password, the broker goes on, nobody is told
// anything, nothing of ours changes and a proper client is answered.
func FuzzConnection(f *testing.F) {
	hello := "\x10\x10\x00\x04MQTT\x04\x02\x00\x00\x00\x04slow"
	f.Add([]byte(hello+"\x82\x06\x00\x01\x00\x01#\x01"), false)
	f.Add([]byte("\x82\x06\x00\x01\x00\x01#\x01\x30\x07\x00\x01ahello\xe0\x00"), true)
	f.Add([]byte("\x31\x1e\x00\x18lathwatch/elderbank/noteabcd"), true)
	f.Add([]byte("\x10\x22\x00\x04MQTT\x04\xee\x00\x00\x00\x01x\x00\x01w\x00\x01m\x00\x06keeper\x00\x04moss"), false)
	f.Add([]byte("\x10\x13\x00\x04MQTT\x05\x02\x00\x00\x03\x21\xff\xff\x00\x03abc"), false)
	f.Add([]byte("\x10\x12\x00\x04MQTT\x04\x02\x00\x00\x00\x06inline"), false)
	f.Add([]byte("\xff\xff\xff\xff\xff\x01"), true)
	secret := filepath.Join(f.TempDir(), "password")
	if err := os.WriteFile(secret, []byte("a long leaf mould"), 0o600); err != nil {
		f.Fatal(err)
	}
	b, err := New(Config{Broker: garden.Broker{Listen: "127.0.0.1:0", User: "keeper", PasswordFile: secret}, Site: "elderbank", Inlets: []string{"nodes/#"}})
	if err != nil {
		f.Fatal(err)
	}
	b.guard.delay = 0
	b.guard.hash = &hash{memory: 64, passes: 1, lanes: 1, salt: []byte("saltsaltsaltsalt")}
	b.guard.hash.sum = b.guard.hash.of([]byte("a long leaf mould"), hashLength)
	ctx, cancel := context.WithCancel(context.Background())
	over := make(chan error, 1)
	go func() { over <- b.Run(ctx) }()
	f.Cleanup(func() { cancel(); <-over })
	heard := make(chan string, 100)
	if err := b.Subscribe("#", func(topic string, payload []byte, _ bool) {
		if topic != "lathwatch/elderbank/status" && !strings.HasPrefix(topic, "$SYS/") { // the library's own figures of itself
			select {
			case heard <- fmt.Sprintf("%s %q", topic, payload):
			default:
			}
		}
	}); err != nil {
		f.Fatal(err)
	}
	if err := b.Publish("lathwatch/elderbank/status", []byte("online"), true, 1); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, sent []byte, greeted bool) {
		if greeted {
			sent = append([]byte(hello), sent...)
		}
		talk(t, b, sent, 50*time.Millisecond)
		select {
		case what := <-heard:
			t.Errorf("%q was handed on as %s", sent, what)
		default:
		}
		asks := "\x10\x0f\x00\x04MQTT\x04\x02\x00\x00\x00\x03ask\x82\x1f\x00\x01\x00\x1alathwatch/elderbank/status\x01"
		if got := talk(t, b, []byte(asks), 10*time.Second); !strings.Contains(string(got), "online") {
			t.Errorf("after %q a proper client got %q", sent, got)
		}
	})
}

// near is the far end of a pipe that seems to be on this board, from where nobody needs the password to read.
type near struct{ net.Conn }

func (near) RemoteAddr() net.Addr { return &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 5000} }

// talk sends bytes through the door and gives what came back until the state we publish, the end or a silence of that length.
func talk(t *testing.T, b *Broker, sent []byte, silence time.Duration) []byte {
	t.Helper()
	ours, theirs := net.Pipe()
	b.door.admit(near{theirs}, func(id string, c net.Conn) error { return b.server.EstablishConnection(id, c) })
	got := make(chan []byte, 1)
	go func() {
		var all []byte
		buf := make([]byte, 4096)
		for {
			ours.SetReadDeadline(time.Now().Add(silence))
			n, err := ours.Read(buf)
			all = append(all, buf[:n]...)
			if err != nil || strings.Contains(string(all), "online") {
				got <- all
				return
			}
		}
	}()
	ours.SetWriteDeadline(time.Now().Add(time.Second))
	_, _ = ours.Write(sent) // the broker may hang up in between
	all := <-got
	_ = ours.Close()
	return all
}
