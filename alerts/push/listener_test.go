package push_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"

	"lathwatch/alerts/broker"
	"lathwatch/alerts/push"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// listen runs a listener to a broker outside, or inside when there is no address.
func listen(t *testing.T, address string, env push.Env) *push.Listener {
	t.Helper()
	env.Site, env.Machine = site, "0123abcd"
	body := ""
	if address != "" {
		body = fmt.Sprintf("broker = %q", address)
	}
	in, err := push.NewListener(table.Raw{Name: "mqtt", Body: body}, env)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	over := make(chan error, 1)
	go func() { over <- in.Run(ctx) }()
	t.Cleanup(func() { cancel(); <-over })
	return in
}

// ear is what a listener hears.
type ear chan string

func (e ear) hear(a drivers.Arrival) { e <- fmt.Sprintf("%s %s %t", a.Topic, a.Payload, a.Retained) }

// tell publishes until it is heard; repeats of what was told before may come in between.
func (e ear) tell(t *testing.T, c mqtt.Client, topic, payload string) {
	t.Helper()
	for range 200 {
		c.Publish(topic, 1, false, payload).WaitTimeout(time.Second)
		select {
		case got := <-e:
			if got == topic+" "+payload+" false" {
				return
			}
		case <-time.After(50 * time.Millisecond):
		}
	}
	t.Fatalf("nobody hears %s", topic)
}

func TestAListenerListensAgainAfterABrokerRestart(t *testing.T) {
	t.Parallel()
	m := newMosquitto(t, "").start()
	in := listen(t, m.address(), push.Env{})
	e := make(ear, 1000)
	node := newReader(t, m.address(), readerOpts{id: "node", filters: []string{"nothing"}})
	in.Subscribe("nodes/+/soil", e.hear)
	e.tell(t, node.c, "nodes/7/soil", "41")
	in.Subscribe("nodes/+/air", e.hear) // asked for while connected
	e.tell(t, node.c, "nodes/7/air", "3.5")
	m.stop()
	m.start()
	e.tell(t, node.c, "nodes/8/soil", "42")
}

func TestAListenerToTheBrokerInsideHearsItsInlets(t *testing.T) {
	t.Parallel()
	secret := secretFile(t, "leaf mould")
	br, err := broker.New(broker.Config{Broker: garden.Broker{Listen: "127.0.0.1:0", User: "keeper", PasswordFile: secret}, Site: site, Inlets: []string{"nodes/+/soil"}})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	over := make(chan struct{})
	go func() { br.Run(ctx); close(over) }()
	t.Cleanup(func() { cancel(); <-over })
	in := listen(t, "", push.Env{Local: br})
	e := make(ear, 1000)
	in.Subscribe("nodes/+/soil", e.hear)
	node := newReader(t, "mqtt://"+br.Addr(), readerOpts{id: "node", user: "keeper", password: "leaf mould", filters: []string{"lathwatch/#"}})
	e.tell(t, node.c, "nodes/7/soil", "41")
	if len(node.on(topics.Status())) != 0 {
		t.Error("the listener speaks of the daemon's status")
	}
}

func TestAListenerThatIsRefusedOneFilterListensToTheOthers(t *testing.T) {
	t.Parallel()
	b := newFakeBroker(t, func(n int, p packets.ControlPacket) []packets.ControlPacket {
		s, is := p.(*packets.SubscribePacket)
		switch {
		case is && s.Topics[0] == "forbidden":
			return []packets.ControlPacket{suback(s.MessageID, 0x80)}
		case is:
			pub := packets.NewControlPacket(packets.Publish).(*packets.PublishPacket)
			pub.TopicName, pub.Payload = s.Topics[0], []byte("1")
			return []packets.ControlPacket{suback(s.MessageID, 1), pub}
		}
		return politely(n, p)
	})
	var tr troubles
	in := listen(t, b.address(), push.Env{Trouble: tr.tell})
	e := make(ear, 1000)
	in.Subscribe("forbidden", e.hear)
	in.Subscribe("allowed", e.hear)
	select {
	case got := <-e:
		if got != "allowed 1 false" {
			t.Errorf("heard %q", got)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("nothing was heard")
	}
	if !tr.has(push.TroubleRefused) {
		t.Errorf("the refusal was not told: %v", tr.all())
	}
}

// TestANoteOfOver4KiBIsNotTaken: it is told, and what comes after it is taken.
func TestANoteOfOver4KiBIsNotTaken(t *testing.T) {
	t.Parallel()
	m, body := passworded(t)
	m.start()
	var tr troubles
	notes, take := taker()
	start(t, open(t, "mqtt", body, push.Env{NoteTaker: take, Trouble: tr.tell}))
	online(t, m, keeper)
	full := strings.Repeat("x", 4096)
	send(t, m, false, full+"x", full, "after")
	for _, want := range []string{full, "after"} {
		select {
		case got := <-notes:
			if got != want {
				t.Errorf("a note of %d bytes was taken, %d were to be", len(got), len(want))
			}
		case <-time.After(10 * time.Second):
			t.Fatalf("a note of %d bytes was not taken", len(want))
		}
	}
	if !tr.has(push.TroubleNotes) || !strings.Contains(strings.Join(tr.all(), "\n"), "over 4 KiB") {
		t.Errorf("told: %q", tr.all())
	}
}
