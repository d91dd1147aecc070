package push_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"
	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// Failures that people have reported of MQTT clients and brokers, each in its smallest form.
func TestFieldLog(t *testing.T) {
	for _, c := range []struct {
		name string
		test func(*testing.T)
	}{
		{"Q1_two_clients_with_one_id", twoClientsOneID},
		{"Q2_an_acknowledgement_that_never_comes", noAcknowledgement},
		{"Q3_deaf_after_the_broker_restarted", deafAfterRestart},
		{"Q3_the_subscription_is_refused", subscriptionRefused},
		{"Q4_a_handler_that_waits_for_a_publication", handlerWaits},
		{"Q4_more_notes_than_can_be_taken", notesOverflow},
		{"Q5_a_message_while_reconnecting", whileReconnecting},
		{"Q6_messages_before_the_first_connection", beforeFirstConnect},
		{"Q7_the_line_drops_before_the_acknowledgement", lineDrops},
		{"Q8_thirty_days_without_a_broker", weeksOffline},
		{"Q9_no_file_store", noFileStore},
		{"Q10_a_retained_note_is_not_news", retainedNote},
		{"Q15_no_flood_after_an_absence", noFlood},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.test(t)
		})
	}
}

func twoClientsOneID(t *testing.T) {
	m := newMosquitto(t, "").start()
	var tr troubles
	r := open(t, "mqtt", `broker = "`+m.address()+`"
client-id = "same"`, push.Env{Trouble: tr.tell})
	start(t, r)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	go func() { // the rival comes back at once, each time
		for ctx.Err() == nil {
			lost := make(chan struct{}, 1)
			o := mqtt.NewClientOptions().AddBroker(m.address()).SetClientID("same").SetAutoReconnect(false)
			o.SetConnectionLostHandler(func(mqtt.Client, error) { lost <- struct{}{} })
			c := mqtt.NewClient(o)
			if tok := c.Connect(); tok.WaitTimeout(5*time.Second) && tok.Error() == nil {
				select {
				case <-lost:
				case <-ctx.Done():
				}
			}
			c.Disconnect(0)
		}
	}()
	eventually(t, 60*time.Second, "nobody was told that the id is in use", func() bool { return tr.has(push.TroubleInUse) })
	if said := tr.all()[0]; !strings.Contains(said, "client-id") {
		t.Errorf("the trouble does not name the setting that mends it: %s", said)
	}
}

func noAcknowledgement(t *testing.T) {
	var mute atomic.Bool
	mute.Store(true)
	b := newFakeBroker(t, func(n int, p packets.ControlPacket) []packets.ControlPacket {
		if pub, is := p.(*packets.PublishPacket); is && mute.Load() && strings.HasSuffix(pub.TopicName, "/message") {
			return nil
		}
		return politely(n, p)
	})
	box := newOutbox()
	box.add(change(0))
	stop := start(t, open(t, "mqtt", "broker = \""+b.address()+"\"\nwait = \"1 s\"", push.Env{Outbox: box}))
	time.Sleep(1500 * time.Millisecond)
	if box.done() != 0 {
		t.Fatal("the mark moved without an acknowledgement")
	}
	mute.Store(false)
	eventually(t, 20*time.Second, "the message was not tried again", func() bool { return box.done() == 1 })
	mute.Store(true)
	box.add(change(1))
	time.Sleep(100 * time.Millisecond)
	stop() // fails the test when it hangs
}

// passworded is a mosquitto that asks for a password.
func passworded(t *testing.T) (m *mosquitto, body string) {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, "users")
	setPassword(t, file, "leaf mould")
	m = newMosquitto(t, "allow_anonymous false\npassword_file "+file+"\n")
	secret := filepath.Join(dir, "secret")
	if err := os.WriteFile(secret, []byte("leaf mould\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	return m, fmt.Sprintf("broker = %q\nuser = \"keeper\"\npassword-file = %q", m.address(), secret)
}

func setPassword(t *testing.T, file, password string) {
	t.Helper()
	bin, err := exec.LookPath("mosquitto_passwd")
	if err != nil {
		if os.Getenv("LATHWATCH_REQUIRE") == "1" {
			t.Fatal("mosquitto_passwd is not installed, and LATHWATCH_REQUIRE=1 asks for it")
		}
		t.Skip("mosquitto_passwd is not installed")
	}
	os.Remove(file)
	if out, err := exec.Command(bin, "-b", "-c", file, "keeper", password).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
}

var keeper = readerOpts{user: "keeper", password: "leaf mould"}

// taker takes notes into a channel.
func taker() (chan string, push.NoteTaker) {
	c := make(chan string, 200)
	return c, func(_ context.Context, p []byte) error { c <- string(p); return nil }
}

func send(t *testing.T, m *mosquitto, retain bool, payloads ...string) {
	t.Helper()
	o := keeper
	o.id, o.filters = fmt.Sprintf("sender-%d", time.Now().UnixNano()), []string{"nothing"}
	c := newReader(t, m.address(), o).c
	for _, p := range payloads {
		if tok := c.Publish(topics.Note(), 1, retain, p); !tok.WaitTimeout(5*time.Second) || tok.Error() != nil {
			t.Fatalf("sending a note: %v", tok.Error())
		}
	}
	c.Disconnect(100)
}

func online(t *testing.T, m *mosquitto, o readerOpts) {
	t.Helper()
	eventually(t, 20*time.Second, "not online", func() bool { return retainedNow(t, m.address(), o)[topics.Status()] == "online" })
	time.Sleep(100 * time.Millisecond) // the subscription follows the greeting
}

func deafAfterRestart(t *testing.T) {
	m, body := passworded(t)
	m.start()
	notes, take := taker()
	start(t, open(t, "mqtt", body, push.Env{NoteTaker: take}))
	online(t, m, keeper)
	send(t, m, false, "before")
	m.stop()
	m.start()
	online(t, m, keeper)
	send(t, m, false, "after")
	for _, want := range []string{"before", "after"} {
		select {
		case got := <-notes:
			if got != want {
				t.Errorf("got note %q, want %q", got, want)
			}
		case <-time.After(5 * time.Second):
			t.Fatalf("note %q did not arrive", want)
		}
	}
}

func subscriptionRefused(t *testing.T) {
	b := newFakeBroker(t, func(n int, p packets.ControlPacket) []packets.ControlPacket {
		if s, is := p.(*packets.SubscribePacket); is {
			return []packets.ControlPacket{suback(s.MessageID, 0x80)}
		}
		return politely(n, p)
	})
	secret := filepath.Join(t.TempDir(), "secret")
	os.WriteFile(secret, []byte("x"), 0o600)
	var tr troubles
	_, take := taker()
	box := newOutbox()
	start(t, open(t, "mqtt", fmt.Sprintf("broker = %q\nuser = \"keeper\"\npassword-file = %q", b.address(), secret), push.Env{NoteTaker: take, Trouble: tr.tell, Outbox: box}))
	eventually(t, 10*time.Second, "the refusal was not told", func() bool { return tr.has(push.TroubleRefused) })
	box.add(change(0))
	eventually(t, 10*time.Second, "messages stopped because notes were refused", func() bool { return box.done() == 1 })
}

// Each of 20 notes makes the daemon say something and wait until it is said: with a handler that waits nothing would ever be said.
func handlerWaits(t *testing.T) {
	m, body := passworded(t)
	m.start()
	box := newOutbox()
	var taken atomic.Int64
	take := func(ctx context.Context, p []byte) error {
		n := taken.Load()
		box.add(change(int(n)))
		for box.done() <= n {
			select {
			case <-ctx.Done():
				return ctx.Err()
			case <-time.After(time.Millisecond):
			}
		}
		taken.Add(1)
		return nil
	}
	start(t, open(t, "mqtt", body, push.Env{NoteTaker: take, Outbox: box}))
	online(t, m, keeper)
	send(t, m, false, slices.Repeat([]string{"note"}, 20)...)
	eventually(t, 10*time.Second, "the notes were not all taken", func() bool { return taken.Load() == 20 })
}

func notesOverflow(t *testing.T) {
	m, body := passworded(t)
	m.start()
	var tr troubles
	release := make(chan struct{})
	var taken atomic.Int64
	take := func(ctx context.Context, p []byte) error { <-release; taken.Add(1); return nil }
	box := newOutbox()
	start(t, open(t, "mqtt", body, push.Env{NoteTaker: take, Trouble: tr.tell, Outbox: box}))
	t.Cleanup(closing(release))
	online(t, m, keeper)
	send(t, m, false, slices.Repeat([]string{"note"}, 100)...)
	eventually(t, 10*time.Second, "the overflow was not told", func() bool { return tr.has(push.TroubleNotes) })
	box.add(change(0))
	eventually(t, 10*time.Second, "messages stopped because notes were not taken", func() bool { return box.done() == 1 })
	closing(release)()
	eventually(t, 10*time.Second, "no note was taken", func() bool { return taken.Load() >= 32 })
	said := tr.all()
	if last := said[len(said)-1]; !strings.Contains(last, fmt.Sprintf("(%d so far)", 100-taken.Load())) {
		t.Errorf("%d of 100 notes were taken, and the count says: %s", taken.Load(), last)
	}
}

// closing closes a channel that may be closed already.
func closing(c chan struct{}) func() {
	return func() {
		select {
		case <-c:
		default:
			close(c)
		}
	}
}

func whileReconnecting(t *testing.T) {
	m := newMosquitto(t, "").start()
	box := newOutbox()
	start(t, open(t, "mqtt", `broker = "`+m.address()+`"`, push.Env{Outbox: box}))
	online(t, m, readerOpts{})
	m.stop()
	box.add(change(0))
	time.Sleep(300 * time.Millisecond)
	if box.done() != 0 {
		t.Fatal("a message counts as sent although the broker is down")
	}
	m.start()
	r := newReader(t, m.address(), readerOpts{id: "phone"})
	eventually(t, 15*time.Second, "the message did not arrive", func() bool { return len(r.on(topics.Message())) == 1 })
}

func beforeFirstConnect(t *testing.T) {
	m := newMosquitto(t, "")
	box := newOutbox()
	box.add(change(0), change(1))
	start(t, open(t, "mqtt", `broker = "`+m.address()+`"`, push.Env{Outbox: box}))
	time.Sleep(300 * time.Millisecond)
	m.start()
	r := newReader(t, m.address(), readerOpts{id: "phone"})
	eventually(t, 20*time.Second, "the messages did not arrive", func() bool { return len(r.on(topics.Message())) == 2 })
	if d := cmp.Diff(wantKeys(0, 2), keys(t, r.on(topics.Message()))); d != "" {
		t.Error(d)
	}
}

func lineDrops(t *testing.T) {
	m := newMosquitto(t, "").start()
	r := newReader(t, m.address(), readerOpts{id: "phone", filters: []string{topics.Message()}})
	var cut atomic.Int64
	box := newOutbox()
	p := newProxy(t, fmt.Sprintf("127.0.0.1:%d", m.port), func(topic string) bool {
		return topic == topics.Message() && cut.Add(1) <= 2 // the broker has the message; its acknowledgement is lost with the line, twice
	})
	box.add(change(0), change(1))
	start(t, open(t, "mqtt", `broker = "`+p.address()+`"`, push.Env{Outbox: box}))
	eventually(t, 30*time.Second, "the outbox was not emptied", func() bool { return box.done() == 2 })
	eventually(t, 5*time.Second, "not all arrived", func() bool { return slices.Contains(keys(t, r.on(topics.Message())), change(1).Key) })
	all := keys(t, r.on(topics.Message()))
	if d := cmp.Diff(wantKeys(0, 2), first(all)); d != "" {
		t.Error(d)
	}
	if len(all) != 4 { // the first came three times
		t.Errorf("%d messages came after two lost acknowledgements: %v", len(all), all)
	}
}

// weeksOffline lives through 30 days without a broker: rounds every 5 minutes, a message a day with a week to live.
func weeksOffline(t *testing.T) {
	m := newMosquitto(t, "")
	var clock atomic.Int64
	clock.Store(noon.Unix())
	box := newOutbox()
	box.now = func() time.Time { return time.Unix(clock.Load(), 0) }
	updates := make(chan push.Update, 1)
	var st atomic.Pointer[alerts.Standing]
	r := open(t, "mqtt", `broker = "`+m.address()+`"`, push.Env{Outbox: box, Retained: newKept(), Updates: updates, State: st.Load})
	start(t, r)
	runtime.GC()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	const rounds = 30 * 24 * 12
	var last *alerts.Standing
	for i := range rounds {
		at := noon.Add(time.Duration(i) * 5 * time.Minute)
		clock.Store(at.Unix())
		last = bed(at)
		st.Store(last)
		round := &sensors.Round{At: at, Readings: []sensors.Reading{{Probe: "D7-t", Raw: int64(i), Step: units.Whole(units.Temperature)}}}
		select {
		case updates <- push.Update{Round: round, Standing: last}:
		default: // as the daemon does
		}
		if i%288 == 0 {
			c := change(i)
			c.Until = at.Add(7 * 24 * time.Hour)
			box.add(c)
		}
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	if grown := int64(after.HeapAlloc) - int64(before.HeapAlloc); grown > 1<<20 {
		t.Errorf("the heap grew by %d bytes over %d rounds without a broker", grown, rounds)
	}
	if box.done() != 0 {
		t.Error("the mark moved without a broker")
	}
	m.start()
	phone := newReader(t, m.address(), readerOpts{id: "phone"})
	eventually(t, 20*time.Second, "the outbox was not emptied", func() bool { return box.done() == 30 })
	eventually(t, 5*time.Second, "the newest state did not arrive", func() bool {
		p := phone.on(topics.Pot("D7"))
		return len(p) > 0 && p[len(p)-1] == string(alerts.PotState(last, 0))
	})
	var want []string
	for day := 23; day < 30; day++ { // the 23 older ones had run out
		want = append(want, change(day*288).Key)
	}
	// the broker has taken them all; the phone has them a moment later
	eventually(t, 5*time.Second, "the last message did not arrive", func() bool { return slices.Contains(keys(t, phone.on(topics.Message())), want[len(want)-1]) })
	if d := cmp.Diff(want, first(keys(t, phone.on(topics.Message())))); d != "" {
		t.Error(d)
	}
	if len(box.expired) != 23 {
		t.Errorf("%d messages expired", len(box.expired))
	}
	if n := len(phone.on(topics.Reading("D7-t"))); n > 1 {
		t.Errorf("%d old readings were sent after the outage", n)
	}
}

func noFileStore(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) == 0 {
		t.Fatal("no sources found")
	}
	for _, f := range files {
		src, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasSuffix(f, "_test.go") && strings.Contains(string(src), "NewFile"+"Store") {
			t.Errorf("%s uses the store that panics on a full card", f)
		}
	}
}

func retainedNote(t *testing.T) {
	m, body := passworded(t)
	m.start()
	notes, take := taker()
	send(t, m, true, "a week old")
	env := push.Env{NoteTaker: take}
	stop := start(t, open(t, "mqtt", body, env))
	online(t, m, keeper)
	send(t, m, false, "fresh")
	if got := <-notes; got != "fresh" {
		t.Errorf("got %q", got)
	}
	stop()
	start(t, open(t, "mqtt", body, env))
	online(t, m, keeper)
	send(t, m, false, "fresh again")
	if got := <-notes; got != "fresh again" {
		t.Errorf("after a restart: got %q", got)
	}
}

func noFlood(t *testing.T) {
	m, body := passworded(t)
	m.start()
	notes, take := taker()
	box := newOutbox()
	env := push.Env{NoteTaker: take, Outbox: box}
	stop := start(t, open(t, "mqtt", body, env))
	online(t, m, keeper)
	stop()
	send(t, m, false, "1", "2", "3")
	start(t, open(t, "mqtt", body, env))
	online(t, m, keeper)
	send(t, m, false, "now")
	if got := <-notes; got != "now" {
		t.Errorf("after an absence the broker sent %q", got)
	}
	o := keeper
	o.id, o.filters = "phone", []string{topics.Message()}
	r := newReader(t, m.address(), o)
	box.add(change(5))
	eventually(t, 5*time.Second, "no message", func() bool { return len(r.on(topics.Message())) == 1 })
	if p := r.on(topics.Message())[0]; !strings.Contains(p, `"at":"2027-01-26T12:05:00Z"`) {
		t.Errorf("a message does not carry its own time: %s", p)
	}
}
