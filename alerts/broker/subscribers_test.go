package broker_test

import (
	"fmt"
	"net"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"

	"lathwatch/alerts/broker"
)

// crowd is many subscribers to everything.
type crowd struct {
	mu    sync.Mutex
	got   [][]string // by subscriber
	total atomic.Int64
}

// join connects n subscribers and waits until each has what is retained.
func (c *crowd) join(t testing.TB, b *broker.Broker, n, retained int) {
	t.Helper()
	c.got = make([][]string, n)
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() {
			o := mqtt.NewClientOptions().AddBroker("tcp://" + b.Addr()).SetClientID(fmt.Sprintf("reader-%03d", i)).SetProtocolVersion(4).SetAutoReconnect(false).SetWriteTimeout(10 * time.Second)
			r := mqtt.NewClient(o)
			if tok := r.Connect(); !tok.WaitTimeout(30*time.Second) || tok.Error() != nil {
				t.Errorf("reader %d: %v", i, tok.Error())
				return
			}
			t.Cleanup(func() { r.Disconnect(0) })
			tok := r.Subscribe("lathwatch/#", 1, func(_ mqtt.Client, m mqtt.Message) {
				c.mu.Lock()
				c.got[i] = append(c.got[i], fmt.Sprintf("%s %s %t", m.Topic(), m.Payload(), m.Retained()))
				c.mu.Unlock()
				c.total.Add(1)
			})
			if !tok.WaitTimeout(30*time.Second) || tok.Error() != nil {
				t.Errorf("reader %d: %v", i, tok.Error())
			}
		})
	}
	all.Wait()
	c.until(t, int64(n*retained))
}

// until waits for so many messages in all.
func (c *crowd) until(t testing.TB, total int64) {
	t.Helper()
	for end := time.Now().Add(60 * time.Second); c.total.Load() < total; time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("%d of %d messages arrived within 60 s", c.total.Load(), total)
		}
	}
}

// deaf connects and subscribes, and never reads again.
func deaf(t testing.TB, b *broker.Broker, id string) {
	t.Helper()
	c, err := net.Dial("tcp", b.Addr())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	_ = c.(*net.TCPConn).SetReadBuffer(4096)
	hello := packets.NewControlPacket(packets.Connect).(*packets.ConnectPacket)
	hello.ProtocolName, hello.ProtocolVersion, hello.ClientIdentifier, hello.CleanSession, hello.Keepalive = "MQTT", 4, id, true, 600
	sub := packets.NewControlPacket(packets.Subscribe).(*packets.SubscribePacket)
	sub.Topics, sub.Qoss, sub.MessageID = []string{"lathwatch/#"}, []byte{0}, 1
	if err := hello.Write(c); err != nil {
		t.Fatal(err)
	}
	if _, err := packets.ReadPacket(c); err != nil {
		t.Fatal(err)
	}
	if err := sub.Write(c); err != nil {
		t.Fatal(err)
	}
}

func states(t testing.TB, b *broker.Broker, n int) (all []string) {
	t.Helper()
	for i := range n {
		topic := fmt.Sprintf("lathwatch/elderbank/pot/P%02d", i)
		if err := b.Publish(topic, fmt.Appendf(nil, "state %d", i), true, 1); err != nil {
			t.Fatal(err)
		}
		all = append(all, fmt.Sprintf("%s state %d true", topic, i))
	}
	return all
}

// TestTwoHundredSubscribersEachGetEverything: 200 readers, ten of whom never read on. Every other one has each retained state once and
// each message once, in order.
func TestTwoHundredSubscribersEachGetEverything(t *testing.T) {
	t.Parallel()
	const readers, mute, retained, messages = 190, 10, 60, 40
	b := run(t, broker.Config{})
	want := states(t, b, retained)
	var c crowd
	for i := range mute {
		deaf(t, b, fmt.Sprintf("deaf-%d", i))
	}
	c.join(t, b, readers, retained)
	big := string(make([]byte, 4<<10))
	var live []string
	for i := range messages {
		text := fmt.Sprintf("message %d %s", i, big)
		if err := b.Publish("lathwatch/elderbank/message", []byte(text), false, 1); err != nil {
			t.Fatal(err)
		}
		live = append(live, fmt.Sprintf("lathwatch/elderbank/message %s false", text))
	}
	c.until(t, readers*(retained+messages))
	time.Sleep(50 * time.Millisecond) // one too many would come now
	c.mu.Lock()
	defer c.mu.Unlock()
	for i, got := range c.got {
		first := slices.Sorted(slices.Values(got[:min(retained, len(got))]))
		if !slices.Equal(first, slices.Sorted(slices.Values(want))) || !slices.Equal(got[min(retained, len(got)):], live) {
			t.Fatalf("reader %d has %d messages that are not the %d states and the %d messages in order", i, len(got), retained, messages)
		}
	}
}

// BenchmarkSubscribers: how long a message takes to its last reader, of 20, of 200, and of 200 while ten others do not read. The ratios
// are to 20 readers (10 would be the same time a reader) and of deaf company to none.
func BenchmarkSubscribers(b *testing.B) {
	text := make([]byte, 400)
	measure := func(readers, mute, n int) time.Duration {
		br := run(b, broker.Config{})
		states(b, br, 60)
		for i := range mute {
			deaf(b, br, fmt.Sprintf("deaf-%d", i))
		}
		var c crowd
		c.join(b, br, readers, 60)
		began, had := time.Now(), c.total.Load()
		for i := range n {
			if err := br.Publish("lathwatch/elderbank/message", text, false, 1); err != nil {
				b.Fatal(err)
			}
			c.until(b, had+int64((i+1)*readers))
		}
		return time.Since(began) / time.Duration(n)
	}
	for b.Loop() {
		few, many, deafs := measure(20, 0, 100), measure(200, 0, 100), measure(200, 10, 100)
		b.ReportMetric(few.Seconds()*1e6, "20-readers-µs")
		b.ReportMetric(float64(many)/float64(few), "200-to-20-ratio")
		b.ReportMetric(float64(deafs)/float64(many), "deaf-company-ratio")
	}
}
