package drivers

import (
	"io"
	"log/slog"
	"net"
	"strings"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	broker "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"
)

// pahoTopics lends a real client's subscriptions to a driver, each handed on as it comes.
type pahoTopics struct{ client paho.Client }

func (p pahoTopics) Subscribe(filter string, handle func(Arrival)) error {
	token := p.client.Subscribe(filter, 1, func(_ paho.Client, m paho.Message) {
		handle(Arrival{Topic: m.Topic(), Payload: m.Payload(), Retained: m.Retained(), At: time.Now()})
	})
	token.WaitTimeout(5 * time.Second)
	return token.Error()
}

// openHook lets everybody do everything.
type openHook struct{ broker.HookBase }

func (*openHook) ID() string { return "open" }
func (*openHook) Provides(b byte) bool {
	return b == broker.OnConnectAuthenticate || b == broker.OnACLCheck
}
func (*openHook) OnConnectAuthenticate(*broker.Client, packets.Packet) bool { return true }
func (*openHook) OnACLCheck(*broker.Client, string, bool) bool              { return true }

// Against a real broker and a real client: what was retained before is told from what is published now, although the publisher
// asks to retain that too, and a handler never holds up the connection.
func TestMQTTAgainstABroker(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := broker.New(&broker.Options{InlineClient: true, Logger: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err := server.AddHook(new(openHook), nil); err != nil {
		t.Fatal(err)
	}
	if err := server.AddListener(listeners.NewNet("test", l)); err != nil {
		t.Fatal(err)
	}
	if err := server.Serve(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = server.Close() })
	publish := func(topic, payload string, retain bool) {
		t.Helper()
		if err := server.Publish(topic, []byte(payload), retain, 1); err != nil {
			t.Fatal(err)
		}
	}
	publish("t", "12.5", true)

	client := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + l.Addr().String()).SetClientID("probes").SetCleanSession(true).SetConnectTimeout(5 * time.Second))
	if token := client.Connect(); !token.WaitTimeout(5*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	t.Cleanup(func() { client.Disconnect(100) })
	w, err := ParseProbe(probesOf(t, strings.TrimPrefix(mqttHead(""), "-- garden.toml --\n"))[0])
	if err != nil {
		t.Fatal(err)
	}
	s, err := w.Open(Env{Topics: pahoTopics{client}}, []Wish{w})
	if err != nil {
		t.Fatal(err)
	}
	src := s.(*mqttSource)
	waitFor(t, src, 1)
	if rs, fs := s.Poll(t.Context()); len(rs)+len(fs) != 0 {
		t.Errorf("a retained value was counted: %v %v", rs, fs)
	}
	publish("t", "4.5", true)
	waitFor(t, src, 1)
	if rs, _ := s.Poll(t.Context()); len(rs) != 1 || rs[0].Whole() != 4500 {
		t.Errorf("a live value that is also to be retained: %v", rs)
	}
	for range 200 { // nobody polls; nothing is held up, and the last is kept
		publish("t", "1", false)
	}
	publish("t", "7.25", false)
	deadline := time.Now().Add(10 * time.Second)
	for time.Now().Before(deadline) && !newestIs(src, "7.25") {
		time.Sleep(5 * time.Millisecond)
	}
	if rs, _ := s.Poll(t.Context()); len(rs) != 1 || rs[0].Whole() != 7250 {
		t.Errorf("after a flood: %v", rs)
	}
}

func waitFor(t *testing.T, s *mqttSource, n int) {
	t.Helper()
	deadline := time.Now().Add(10 * time.Second)
	for time.Now().Before(deadline) {
		s.mu.Lock()
		have := len(s.waiting)
		s.mu.Unlock()
		if have >= n {
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Fatalf("no %d messages within 10 s", n)
}

func newestIs(s *mqttSource, payload string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.waiting) > 0 && string(s.waiting[len(s.waiting)-1].Payload) == payload
}
