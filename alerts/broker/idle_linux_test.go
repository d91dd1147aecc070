package broker_test

import (
	"fmt"
	"net"
	"net/url"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"lathwatch/alerts/broker"
)

// stored is what this process has had written to storage, bytes (proc(5), /proc/pid/io).
func stored(t *testing.T) (n int64) {
	t.Helper()
	text, err := os.ReadFile("/proc/self/io")
	if err != nil {
		t.Skip(err)
	}
	found := false
	for line := range strings.Lines(string(text)) {
		if k, _ := fmt.Sscanf(line, "write_bytes: %d", &n); k == 1 {
			found = true
		}
	}
	if !found {
		t.Fatal("the kernel counts nothing here")
	}
	return n
}

// counted is a connection that counts what it is sent.
type counted struct {
	net.Conn
	came *atomic.Int64
}

func (c counted) Read(b []byte) (int, error) {
	n, err := c.Conn.Read(b)
	c.came.Add(int64(n))
	return n, err
}

// A broker nobody talks to writes nothing, neither to the card nor to its clients: retained states are in memory, and what the
// library counts about itself is published to nobody. Two seconds here, a minute in the long run.
func TestAnIdleBrokerWritesNothing(t *testing.T) {
	b := run(t, broker.Config{})
	for i := range 300 {
		b.Publish(fmt.Sprintf("lathwatch/%s/pot/P%d", site, i), []byte("state"), true, 1)
	}
	var got box
	var came atomic.Int64
	c, err := connect(t, b, "reader", "", "", func(o *mqtt.ClientOptions) {
		o.SetKeepAlive(10 * time.Minute).SetCustomOpenConnectionFn(func(u *url.URL, _ mqtt.ClientOptions) (net.Conn, error) {
			c, err := net.Dial("tcp", u.Host)
			return counted{c, &came}, err
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	c.Subscribe("#", 1, got.take).Wait()
	eventually(t, "all states have come", func() bool { return strings.Count(got.all(), "state") == 300 })
	still := 2 * time.Second
	if os.Getenv("LATHWATCH_LONG") != "" {
		still = time.Minute
	}
	time.Sleep(time.Second) // until the last receipts are through
	card, line := stored(t), came.Load()
	time.Sleep(still)
	t.Logf("%d bytes to storage and %d to a reader of everything in %v", stored(t)-card, came.Load()-line, still)
	if stored(t) != card || came.Load() != line {
		t.Error("an idle broker writes")
	}
	b.Publish("lathwatch/"+site+"/pot/P0", []byte("states"), true, 1)
	eventually(t, "a message is counted", func() bool { return came.Load() > line })
}
