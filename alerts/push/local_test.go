package push_test

import (
	"context"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/alerts/broker"
	"lathwatch/alerts/push"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// inside runs a broker in this process.
func inside(t testing.TB, listen string, b garden.Broker) (*broker.Broker, func()) {
	t.Helper()
	b.Listen = listen
	br, err := broker.New(broker.Config{Broker: b, Site: site})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	over := make(chan struct{})
	go func() { br.Run(ctx); close(over) }()
	stop := func() { cancel(); <-over }
	t.Cleanup(stop)
	return br, stop
}

func TestTheBrokerInsideHasTheStateAtOnceAndAfterARestart(t *testing.T) {
	t.Parallel()
	br, stopBroker := inside(t, "127.0.0.1:0", garden.Broker{})
	addr := br.Addr()
	box, mem := newOutbox(), newKept()
	st := bed(noon, alerts.Alert{Kind: "water", Subject: "D7", Place: "table", Pots: []string{"D7"}, Rank: alerts.Week, Key: "k1", Since: noon, Text: "Water D7."})
	updates := make(chan push.Update, 1)
	env := push.Env{Outbox: box, Retained: mem, Local: br, State: func() *alerts.Standing { return st }, Updates: updates}
	stop := start(t, open(t, "mqtt", "", env))
	r := newReader(t, "mqtt://"+addr, readerOpts{id: "phone"})
	want := map[string]string{
		topics.Status():             "online",
		topics.Pot("D7"):            string(alerts.PotState(st, 0)),
		topics.Alert("water", "D7"): string(alerts.AlertState(st.Alerts[0])),
	}
	wantRetained(t, "mqtt://"+addr, readerOpts{}, want)
	eventually(t, 5*time.Second, "nothing is said about our topics", func() bool { return retainedNow(t, "mqtt://"+addr, readerOpts{})[topics.About()] != "" })
	box.add(change(0), change(1))
	round := &sensors.Round{At: noon, Readings: []sensors.Reading{{Probe: "D7-t", Raw: -33, Step: units.Step{Unit: units.Temperature, Num: 125, Den: 2}}}}
	updates <- push.Update{Round: round, Standing: st}
	eventually(t, 5*time.Second, "the messages did not arrive", func() bool { return len(r.on(topics.Message())) == 2 })
	eventually(t, 5*time.Second, "the reading did not arrive", func() bool { return len(r.on(topics.Reading("D7-t"))) == 1 })
	if got := r.on(topics.Reading("D7-t"))[0]; got != `[{"bn":"elderbank:","n":"D7-t","u":"Cel","t":1800964800,"v":-2.063}]` {
		t.Errorf("reading %s", got)
	}

	stop()
	stopBroker()
	br, _ = inside(t, addr, garden.Broker{})
	env.Local = br
	start(t, open(t, "mqtt", "", env))
	wantRetained(t, "mqtt://"+addr, readerOpts{}, want)
	if box.done() != 2 {
		t.Errorf("%d done", box.done())
	}
}

func TestNotesComeInThroughTheBrokerInsideOnlyWithAPassword(t *testing.T) {
	t.Parallel()
	secret := secretFile(t, "leaf mould")
	br, _ := inside(t, "127.0.0.1:0", garden.Broker{User: "keeper", PasswordFile: secret})
	notes, take := taker()
	start(t, open(t, "mqtt", "", push.Env{Local: br, NoteTaker: take}))
	eventually(t, 5*time.Second, "not online", func() bool { return retainedNow(t, "mqtt://"+br.Addr(), readerOpts{})[topics.Status()] == "online" })
	note := `{"subject":"D7","what":"watered","detail":"150 mL"}`
	r := newReader(t, "mqtt://"+br.Addr(), readerOpts{id: "phone", user: "keeper", password: "leaf mould"})
	r.c.Publish(topics.Note(), 1, false, note)
	select {
	case got := <-notes:
		if got != note {
			t.Errorf("got %q", got)
		}
	case <-time.After(5 * time.Second):
		t.Fatal("the note did not arrive")
	}
	br2, _ := inside(t, "127.0.0.1:0", garden.Broker{})
	start(t, open(t, "mqtt", "", push.Env{Local: br2, NoteTaker: take}))
	r2 := newReader(t, "mqtt://"+br2.Addr(), readerOpts{id: "phone"})
	r2.c.Publish(topics.Note(), 0, false, note)
	select {
	case got := <-notes:
		t.Errorf("without a password %q was taken", got)
	case <-time.After(200 * time.Millisecond):
	}
}

func TestATestSendGoesOutWithAndWithoutTheDaemon(t *testing.T) {
	t.Parallel()
	br, _ := inside(t, "127.0.0.1:0", garden.Broker{})
	r := newReader(t, "mqtt://"+br.Addr(), readerOpts{id: "phone"})
	if err := open(t, "mqtt", "", push.Env{Local: br}).Test(t.Context()); err != nil {
		t.Fatal(err)
	}
	eventually(t, 5*time.Second, "the test message did not arrive", func() bool { return len(r.on(topics.Message())) == 1 })

	m := newMosquitto(t, "").start()
	out := open(t, "mqtt", `broker = "`+m.address()+`"`, push.Env{Outbox: newOutbox()})
	start(t, out)
	online(t, m, readerOpts{})
	r = newReader(t, m.address(), readerOpts{id: "phone"})
	if err := out.Test(t.Context()); err != nil {
		t.Fatal(err)
	}
	eventually(t, 5*time.Second, "the test message did not arrive", func() bool { return len(r.on(topics.Message())) == 1 })
	if s := r.on(topics.Status()); len(s) != 1 || s[0] != "online" {
		t.Errorf("the test send pushed the daemon off the broker: status %q", s)
	}
}
