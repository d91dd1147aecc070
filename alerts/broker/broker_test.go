package broker_test

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"lathwatch/alerts/broker"
	"lathwatch/sensors/garden"
)

const site = "elderbank"

// writeLimit is how long the broker lets one write take.
const writeLimit = 20 * time.Second

func secretFile(t *testing.T, text string, mode os.FileMode) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(path, []byte(text), mode); err != nil {
		t.Fatal(err)
	}
	return path
}

// run opens a broker on loopback and serves until the test ends.
func run(t testing.TB, cfg broker.Config) *broker.Broker {
	t.Helper()
	cfg.Site = site
	if cfg.Listen == "" {
		cfg.Listen = "127.0.0.1:0"
	}
	b, err := broker.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	over := make(chan error, 1)
	go func() { over <- b.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		select {
		case <-over:
		case <-time.After(10 * time.Second):
			t.Error("the broker did not end within 10 s")
		}
	})
	return b
}

func connect(t *testing.T, b *broker.Broker, id, user, password string, opt ...func(*mqtt.ClientOptions)) (mqtt.Client, error) {
	t.Helper()
	o := mqtt.NewClientOptions().AddBroker("tcp://" + b.Addr()).SetClientID(id).SetUsername(user).SetPassword(password).SetProtocolVersion(4).SetAutoReconnect(false)
	for _, f := range opt {
		f(o)
	}
	c := mqtt.NewClient(o)
	tok := c.Connect()
	if !tok.WaitTimeout(10 * time.Second) {
		t.Fatal("no answer to a connect within 10 s")
	}
	t.Cleanup(func() { c.Disconnect(20) })
	return c, tok.Error()
}

// box collects what arrives.
type box struct {
	mu sync.Mutex
	in []string
}

func (b *box) take(_ mqtt.Client, m mqtt.Message) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.in = append(b.in, fmt.Sprintf("%s %s %t", m.Topic(), m.Payload(), m.Retained()))
}

func (b *box) all() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return strings.Join(b.in, "\n")
}

func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); !ok(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("within 10 s: " + what)
		}
	}
}

func TestRetainedStatesAreThereForWhoComesLater(t *testing.T) {
	t.Parallel()
	b := run(t, broker.Config{})
	if err := b.Publish("lathwatch/elderbank/pot/D7", []byte("wet"), true, 1); err != nil {
		t.Fatal(err)
	}
	c, err := connect(t, b, "phone", "", "")
	if err != nil {
		t.Fatal(err)
	}
	var in box
	c.Subscribe("lathwatch/#", 1, in.take).Wait()
	eventually(t, "the retained state did not come", func() bool { return in.all() == "lathwatch/elderbank/pot/D7 wet true" })
	b.Publish("lathwatch/elderbank/message", []byte("water"), false, 1)
	eventually(t, "the live message did not come", func() bool { return strings.HasSuffix(in.all(), "\nlathwatch/elderbank/message water false") })
}

func TestWithoutAPasswordThisBoardMayReadAndNobodyMayWrite(t *testing.T) {
	t.Parallel()
	b := run(t, broker.Config{})
	if b.Asks() {
		t.Error("no password is set, but it says it asks for one")
	}
	r, err := connect(t, b, "reader", "", "")
	if err != nil {
		t.Fatal(err)
	}
	var in box
	r.Subscribe("#", 1, in.take).Wait()
	for _, topic := range []string{"lathwatch/elderbank/note", "lathwatch/elderbank/pot/D7", "other"} {
		w, err := connect(t, b, "writer", "", "")
		if err != nil {
			t.Fatal(err)
		}
		w.Publish(topic, 1, true, "x").WaitTimeout(200 * time.Millisecond)
		w.Publish(topic, 0, true, "x").WaitTimeout(200 * time.Millisecond)
	}
	if _, err := connect(t, b, "guess", "admin", "admin"); err == nil {
		t.Error("a password was taken although none is set")
	}
	b.Publish("lathwatch/elderbank/message", []byte("last"), false, 1)
	eventually(t, "nothing came", func() bool { return in.all() != "" })
	if got := in.all(); got != "lathwatch/elderbank/message last false" {
		t.Errorf("something else got through: %s", got)
	}
}

func TestWithThePasswordOnlyTheNoteTopicAndInletsMayBeWritten(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, file string }{{"plain in the file", "leaf mould\n"}, {"hashed in the file", broker.Hash("leaf mould")}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			b := run(t, broker.Config{Broker: garden.Broker{User: "keeper", PasswordFile: secretFile(t, c.file, 0o600)}, Inlets: []string{"nodes/+/soil"}})
			var in box
			for _, f := range []string{"lathwatch/#", "nodes/#", "other/#"} {
				if err := b.Subscribe(f, func(topic string, payload []byte, retained bool) {
					in.mu.Lock()
					defer in.mu.Unlock()
					in.in = append(in.in, fmt.Sprintf("%s %s", topic, payload))
				}); err != nil {
					t.Fatal(err)
				}
			}
			for _, topic := range []string{"lathwatch/elderbank/message", "lathwatch/elderbank/note/x", "nodes/a/b/soil", "nodes/soil", "other/x", "lathwatch/elderbank/note", "nodes/7/soil"} {
				w, err := connect(t, b, "writer", "keeper", "leaf mould")
				if err != nil {
					t.Fatal(err)
				}
				w.Publish(topic, 1, false, "x").WaitTimeout(200 * time.Millisecond)
				w.Disconnect(50)
			}
			eventually(t, "the permitted topics did not arrive", func() bool { return in.all() == "lathwatch/elderbank/note x\nnodes/7/soil x" })
			for _, p := range [][2]string{{"keeper", "leaf"}, {"keeper", ""}, {"other", "leaf mould"}} {
				if _, err := connect(t, b, "guess", p[0], p[1]); err == nil {
					t.Errorf("user %q password %q was let in", p[0], p[1])
				}
			}
		})
	}
}

// A last will is published without the check that a publication gets, so none is taken; a client that has one is let in.
func TestALastWillIsNotPublished(t *testing.T) {
	t.Parallel()
	b := run(t, broker.Config{Broker: garden.Broker{User: "keeper", PasswordFile: secretFile(t, "leaf mould", 0o600)}})
	r, err := connect(t, b, "reader", "", "")
	if err != nil {
		t.Fatal(err)
	}
	var in box
	r.Subscribe("#", 1, in.take).Wait()
	for _, c := range [][2]string{{"", ""}, {"keeper", "leaf mould"}} {
		conn := make(chan net.Conn, 1)
		_, err := connect(t, b, "will-"+c[0], c[0], c[1], func(o *mqtt.ClientOptions) {
			o.SetWill("lathwatch/elderbank/status", "offline", 1, true)
			o.SetCustomOpenConnectionFn(func(u *url.URL, _ mqtt.ClientOptions) (net.Conn, error) {
				c, err := net.Dial("tcp", u.Host)
				conn <- c
				return c, err
			})
		})
		if err != nil {
			t.Fatal(err)
		}
		(<-conn).Close() // without a goodbye: the will is due
	}
	time.Sleep(200 * time.Millisecond)
	b.Publish("lathwatch/elderbank/message", []byte("last"), false, 1)
	eventually(t, "nothing came", func() bool { return in.all() != "" })
	if got := in.all(); got != "lathwatch/elderbank/message last false" {
		t.Errorf("a will got through: %s", got)
	}
	if _, err := connect(t, b, "inline", "keeper", "leaf mould"); err == nil {
		t.Error("a client may take the daemon's own client id")
	}
}

// What clients publish is news for whoever listens now; only the daemon's states are retained.
func TestWhatAClientPublishesIsNotRetained(t *testing.T) {
	t.Parallel()
	b := run(t, broker.Config{Broker: garden.Broker{User: "keeper", PasswordFile: secretFile(t, "leaf mould", 0o600)}})
	c, err := connect(t, b, "phone", "keeper", "leaf mould")
	if err != nil {
		t.Fatal(err)
	}
	c.Publish("lathwatch/elderbank/note", 1, true, "old").Wait()
	b.Publish("lathwatch/elderbank/status", []byte("online"), true, 1)
	var in box
	c.Subscribe("lathwatch/#", 1, in.take).Wait()
	eventually(t, "nothing came", func() bool { return in.all() != "" })
	if got := in.all(); got != "lathwatch/elderbank/status online true" {
		t.Errorf("got %s", got)
	}
}

// Readers come and ask for everything while states change: for the race detector, and for a lock that never comes back.
func TestReadersComeWhileStatesChange(t *testing.T) {
	t.Parallel()
	b := run(t, broker.Config{})
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
			}
			topic := fmt.Sprintf("lathwatch/elderbank/alert/water/P%d", i%20)
			b.Publish(topic, []byte(fmt.Sprint(i))[:i%2], true, 1) // raised and cleared in turn
		}
	})
	for i := range 20 {
		c, err := connect(t, b, fmt.Sprintf("r%d", i), "", "")
		if err != nil {
			t.Fatal(err)
		}
		if !c.Subscribe("lathwatch/#", 1, func(mqtt.Client, mqtt.Message) {}).WaitTimeout(10 * time.Second) {
			t.Fatal("no answer to a subscription")
		}
		c.Disconnect(10)
	}
	close(stop)
	wg.Wait()
}

func TestTheBrokersOwnFiguresAreNotHandedOut(t *testing.T) {
	t.Parallel()
	b := run(t, broker.Config{})
	c, err := connect(t, b, "phone", "", "")
	if err != nil {
		t.Fatal(err)
	}
	tok := c.Subscribe("$SYS/#", 1, nil)
	tok.Wait()
	if code := tok.(*mqtt.SubscribeToken).Result()["$SYS/#"]; code != 0x80 {
		t.Errorf("the subscription was answered %#x", code)
	}
}

func TestALANAddressNeedsAPassword(t *testing.T) {
	t.Parallel()
	open := garden.Broker{Listen: "0.0.0.0:0", User: "keeper", PasswordFile: ""}
	for _, listen := range []string{"0.0.0.0:0", ":0", "192.0.2.1:1883", "[::]:0", "myboard:1883"} {
		open.Listen = listen
		err := broker.Check(broker.Config{Broker: open, Site: site})
		if err == nil || !strings.Contains(err.Error(), "without a password") {
			t.Errorf("listen %q: %v", listen, err)
		}
		if _, err := broker.New(broker.Config{Broker: open, Site: site}); err == nil {
			t.Errorf("listen %q without a password was opened", listen)
		}
	}
	for _, listen := range []string{"127.0.0.1:0", "localhost:0", "[::1]:0", ""} {
		if err := broker.Check(broker.Config{Broker: garden.Broker{Listen: listen}, Site: site}); err != nil {
			t.Errorf("listen %q: %v", listen, err)
		}
	}
	loose := secretFile(t, "leaf mould", 0o644)
	if err := os.Chmod(loose, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, want string
		b          garden.Broker
	}{
		{"others can read the file", "others can read", garden.Broker{User: "keeper", PasswordFile: loose}},
		{"no user", "no user", garden.Broker{PasswordFile: secretFile(t, "leaf mould", 0o600)}},
		{"empty file", "is empty", garden.Broker{User: "keeper", PasswordFile: secretFile(t, "\n", 0o600)}},
		{"another hash", "only argon2id", garden.Broker{User: "keeper", PasswordFile: secretFile(t, "$2b$10$abc", 0o600)}},
		{"half a hash", "incomplete", garden.Broker{User: "keeper", PasswordFile: secretFile(t, "$argon2id$v=19", 0o600)}},
		{"a hash out of range", "out of range", garden.Broker{User: "keeper", PasswordFile: secretFile(t, "$argon2id$v=19$m=99999999,t=2,p=1$c2FsdHNhbHRzYWx0$c2FsdHNhbHRzYWx0c2FsdHNhbHQ", 0o600)}},
	} {
		if err := broker.Check(broker.Config{Broker: c.b, Site: site}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// A reader that stops reading must hold up neither the daemon nor the other readers, and is let go.
func TestASlowReaderIsDroppedAndHoldsNobodyUp(t *testing.T) {
	t.Parallel()
	b := run(t, broker.Config{})
	slow, err := net.Dial("tcp", b.Addr())
	if err != nil {
		t.Fatal(err)
	}
	defer slow.Close()
	slow.(*net.TCPConn).SetReadBuffer(4096)
	// CONNECT, clean session, keep-alive 0, client id "slow"; SUBSCRIBE to "#" at QoS 1.
	slow.Write([]byte{0x10, 16, 0, 4, 'M', 'Q', 'T', 'T', 4, 2, 0, 0, 0, 4, 's', 'l', 'o', 'w'})
	slow.Write([]byte{0x82, 6, 0, 1, 0, 1, '#', 1})
	ack := make([]byte, 9)
	slow.SetReadDeadline(time.Now().Add(5 * time.Second))
	for n := 0; n < len(ack); {
		k, err := slow.Read(ack[n:])
		if err != nil {
			t.Fatalf("%d bytes of answers, then %v", n, err)
		}
		n += k
	}
	quick, err := connect(t, b, "quick", "", "")
	if err != nil {
		t.Fatal(err)
	}
	var in box
	quick.Subscribe("lathwatch/elderbank/message", 1, in.take).Wait()
	sent := make(chan struct{})
	go func() {
		defer close(sent)
		big := make([]byte, 32<<10)
		for range 450 { // 14 MB: more than the sockets between hold
			b.Publish("lathwatch/elderbank/pot/D7", big, true, 1)
		}
		b.Publish("lathwatch/elderbank/message", []byte("still here"), false, 1)
	}()
	select {
	case <-sent:
	case <-time.After(writeLimit - time.Second): // sooner than a write to the slow reader would give up
		t.Fatal("publishing waits for a reader that does not read")
	}
	eventually(t, "the quick reader got nothing", func() bool { return in.all() != "" })
	slow.SetReadDeadline(time.Now().Add(20 * time.Second))
	buf := make([]byte, 1<<16)
	for {
		if _, err := slow.Read(buf); err != nil {
			if ne, ok := err.(net.Error); ok && ne.Timeout() {
				t.Error("the slow reader was not let go")
			}
			break
		}
	}
}

func TestWhoConnectsAndSaysNothingIsLetGo(t *testing.T) {
	t.Parallel()
	b := run(t, broker.Config{})
	c, err := net.Dial("tcp", b.Addr())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	c.SetReadDeadline(time.Now().Add(20 * time.Second))
	if _, err := c.Read(make([]byte, 1)); err == nil || errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("a silent connection: %v", err)
	}
}

// Ending while clients come and go: the library's own way to end can hang.
func TestTheBrokerEndsWhileClientsComeAndGo(t *testing.T) {
	t.Parallel()
	for range 30 {
		b, err := broker.New(broker.Config{Broker: garden.Broker{Listen: "127.0.0.1:0"}, Site: site})
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		over := make(chan error, 1)
		go func() { over <- b.Run(ctx) }()
		var wg sync.WaitGroup
		for i := range 8 {
			wg.Go(func() {
				c, err := net.Dial("tcp", b.Addr())
				if err != nil {
					return
				}
				c.Write([]byte{0x10, 13, 0, 4, 'M', 'Q', 'T', 'T', 4, 2, 0, 0, 0, 1, 'a' + byte(i)})
				c.SetReadDeadline(time.Now().Add(time.Second))
				c.Read(make([]byte, 4))
				c.Close()
			})
		}
		cancel()
		select {
		case <-over:
		case <-time.After(20 * time.Second):
			t.Fatal("the broker does not end")
		}
		wg.Wait()
	}
}

func TestNothingIsWrittenToDisk(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	b := run(t, broker.Config{})
	for i := range 100 {
		b.Publish(fmt.Sprintf("lathwatch/elderbank/pot/P%d", i), []byte("state"), true, 1)
	}
	if files, err := os.ReadDir(dir); err != nil || len(files) != 0 {
		t.Errorf("files %v, %v", files, err)
	}
}
