package push_test

import (
	"context"
	"fmt"
	"maps"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

const site = "elderbank"

var noon = time.Date(2027, 1, 26, 12, 0, 0, 0, time.UTC)

// outbox is a journal in memory: changes in order, a mark, expiry. It outlives the daemons of a test.
type outbox struct {
	mu      sync.Mutex // guards what follows
	changes []alerts.Change
	mark    int64 // seq of the last done; the first change has seq 1
	late    []string
	expired []string
	wake    chan struct{}
	now     func() time.Time
}

func newOutbox() *outbox { return &outbox{wake: make(chan struct{}), now: time.Now} }

func (o *outbox) add(cs ...alerts.Change) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.changes = append(o.changes, cs...)
	close(o.wake)
	o.wake = make(chan struct{})
}

func (o *outbox) Next(ctx context.Context) (push.Letter, error) {
	for {
		o.mu.Lock()
		for o.mark < int64(len(o.changes)) {
			c := o.changes[o.mark]
			if c.Until.IsZero() || o.now().Before(c.Until) {
				l := push.Letter{Seq: o.mark + 1, Change: c, Expired: slices.Clone(o.late)}
				o.mu.Unlock()
				return l, ctx.Err()
			}
			o.late = append(o.late, c.Text)
			o.expired = append(o.expired, c.Key)
			o.mark++
		}
		wake := o.wake
		o.mu.Unlock()
		select {
		case <-wake:
		case <-ctx.Done():
			return push.Letter{}, ctx.Err()
		}
	}
}

func (o *outbox) Done(_ context.Context, seq int64) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if seq != o.mark+1 {
		return fmt.Errorf("done %d, but %d is next", seq, o.mark+1)
	}
	o.mark, o.late = seq, nil
	return nil
}

func (o *outbox) done() int64 {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.mark
}

// kept remembers retained topics over the daemons of a test.
type kept struct {
	mu sync.Mutex
	m  map[string]string
}

func newKept() *kept { return &kept{m: map[string]string{}} }

func (k *kept) SetRetained(_ context.Context, topic string, payload []byte) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if len(payload) == 0 {
		delete(k.m, topic)
	} else {
		k.m[topic] = string(payload)
	}
	return nil
}

func (k *kept) Retained(context.Context) ([]push.Kept, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	var all []push.Kept
	for _, t := range slices.Sorted(maps.Keys(k.m)) {
		all = append(all, push.Kept{Topic: t, Payload: []byte(k.m[t])})
	}
	return all, nil
}

// troubles collects what the keeper is told.
type troubles struct {
	mu   sync.Mutex
	said []string
}

func (tr *troubles) tell(kind, text string) {
	tr.mu.Lock()
	defer tr.mu.Unlock()
	if text == "" {
		text = "(over)"
	}
	tr.said = append(tr.said, kind+": "+text)
}

func (tr *troubles) all() []string {
	tr.mu.Lock()
	defer tr.mu.Unlock()
	return slices.Clone(tr.said)
}

func (tr *troubles) has(kind string) bool {
	for _, s := range tr.all() {
		if len(s) > len(kind) && s[:len(kind)+1] == kind+":" {
			return true
		}
	}
	return false
}

func change(i int) alerts.Change {
	at := noon.Add(time.Duration(i) * time.Minute)
	return alerts.Change{Key: fmt.Sprintf("k%05d", i), At: at, Kind: "water-light", Rank: alerts.Week, State: alerts.Said, Subject: "D7",
		Place: "table", Pots: []string{"D7"}, Text: fmt.Sprintf("Water D7 on the table lightly (%d).", i)}
}

// open opens a way from a block of garden.toml.
func open(t testing.TB, name, body string, env push.Env) push.Runner {
	t.Helper()
	w, ok := push.Named(name)
	if !ok {
		t.Fatalf("there is no way %q", name)
	}
	if env.Site == "" {
		env.Site = site
	}
	if env.Machine == "" {
		env.Machine = "0123abcd"
	}
	r, err := w.Open(table.Raw{Name: name, Path: "push " + name, Line: 40, Body: body}, env)
	if err != nil {
		t.Fatalf("opening %s: %v", name, err)
	}
	return r
}

// start runs a way until stop is called or the test ends.
func start(t testing.TB, r push.Runner) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	over := make(chan error, 1)
	go func() { over <- r.Run(ctx) }()
	var once sync.Once
	stop = func() {
		once.Do(func() {
			cancel()
			select {
			case err := <-over:
				if err != context.Canceled {
					t.Errorf("%s ended with %v", r.Name(), err)
				}
			case <-time.After(10 * time.Second):
				t.Errorf("%s did not end within 10 s of being told to", r.Name())
			}
		})
	}
	t.Cleanup(stop)
	return stop
}

// eventually polls for something another process or connection brings about.
func eventually(t testing.TB, limit time.Duration, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(limit); ; time.Sleep(10 * time.Millisecond) {
		if ok() {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("within %s: %s", limit, what)
		}
	}
}

var lastPort atomic.Int64

func init() { lastPort.Store(int64(20000 + os.Getpid()%10000)) }

// freePort finds one below those the kernel gives to outgoing connections, so that nobody takes it between two starts of a broker.
func freePort(t testing.TB) int {
	t.Helper()
	for range 1000 {
		port := 20000 + int(lastPort.Add(1))%12000
		l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", port))
		if err == nil {
			l.Close()
			return port
		}
	}
	t.Fatal("no free port")
	return 0
}

// mosquitto is a real broker on loopback, which keeps its sessions over an orderly stop.
type mosquitto struct {
	t    testing.TB
	bin  string
	dir  string
	port int
	cmd  *exec.Cmd
}

func newMosquitto(t testing.TB, extra string) *mosquitto {
	t.Helper()
	bin, err := exec.LookPath("mosquitto")
	if err != nil {
		bin, err = exec.LookPath("/usr/sbin/mosquitto")
	}
	if err != nil {
		if os.Getenv("LATHWATCH_REQUIRE") == "1" {
			t.Fatal("mosquitto is not installed, and LATHWATCH_REQUIRE=1 asks for it")
		}
		t.Skip("mosquitto is not installed")
	}
	m := &mosquitto{t: t, bin: bin, dir: t.TempDir(), port: freePort(t)}
	conf := fmt.Sprintf("listener %d 127.0.0.1\npersistence true\npersistence_location %s/\nautosave_interval 3600\nmax_queued_messages 0\nlog_dest stderr\n", m.port, m.dir)
	if extra == "" {
		extra = "allow_anonymous true\n"
	}
	if os.Getuid() == 0 {
		conf += "user root\n"
	}
	if err := os.WriteFile(filepath.Join(m.dir, "conf"), []byte(conf+extra), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(m.stop)
	return m
}

func (m *mosquitto) address() string { return fmt.Sprintf("mqtt://127.0.0.1:%d", m.port) }

func (m *mosquitto) start() *mosquitto {
	m.t.Helper()
	m.cmd = exec.Command(m.bin, "-c", filepath.Join(m.dir, "conf"))
	log, err := os.OpenFile(filepath.Join(m.dir, "log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		m.t.Fatal(err)
	}
	defer log.Close()
	m.cmd.Stderr = log
	if err := m.cmd.Start(); err != nil {
		m.t.Fatal(err)
	}
	eventually(m.t, 30*time.Second, "mosquitto did not open its port", func() bool {
		c, err := net.Dial("tcp", fmt.Sprintf("127.0.0.1:%d", m.port))
		if err == nil {
			c.Close()
		}
		return err == nil
	})
	return m
}

// stop ends the broker in good order: it then writes its sessions down. What it has acknowledged and loses when killed is its own affair.
func (m *mosquitto) stop() {
	if m.cmd == nil {
		return
	}
	_ = m.cmd.Process.Signal(syscall.SIGTERM)
	_ = m.cmd.Wait()
	m.cmd = nil
}

// reader is a client that remembers what it got, in order.
type reader struct {
	c  mqtt.Client
	mu sync.Mutex
	in []got
}

type got struct {
	topic, payload string
	retained       bool
}

type readerOpts struct {
	id, user, password string
	persistent         bool
	filters            []string // default lathwatch/#
}

func newReader(t testing.TB, address string, o readerOpts) *reader {
	t.Helper()
	r := &reader{}
	if o.filters == nil {
		o.filters = []string{"lathwatch/#"}
	}
	opts := mqtt.NewClientOptions().AddBroker(address).SetClientID(o.id).SetCleanSession(!o.persistent).SetProtocolVersion(4)
	opts.SetUsername(o.user).SetPassword(o.password)
	opts.SetMaxReconnectInterval(time.Second).SetConnectRetry(true).SetConnectRetryInterval(100 * time.Millisecond)
	opts.SetDefaultPublishHandler(func(_ mqtt.Client, m mqtt.Message) {
		r.mu.Lock()
		defer r.mu.Unlock()
		r.in = append(r.in, got{m.Topic(), string(m.Payload()), m.Retained()})
	})
	ready := make(chan error, 8)
	opts.SetOnConnectHandler(func(c mqtt.Client) {
		for _, f := range o.filters {
			tok := c.Subscribe(f, 1, nil)
			tok.Wait()
			select {
			case ready <- tok.Error():
			default:
			}
		}
	})
	r.c = mqtt.NewClient(opts)
	r.c.Connect()
	select {
	case err := <-ready:
		if err != nil {
			t.Fatalf("subscribing: %v", err)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("the reader did not connect within 10 s")
	}
	t.Cleanup(func() { r.c.Disconnect(50) })
	return r
}

func (r *reader) all() []got {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.in)
}

func (r *reader) on(topic string) (payloads []string) {
	for _, g := range r.all() {
		if g.topic == topic {
			payloads = append(payloads, g.payload)
		}
	}
	return payloads
}

// retainedNow asks a broker anew what it retains.
func retainedNow(t testing.TB, address string, o readerOpts) map[string]string {
	t.Helper()
	o.id = fmt.Sprintf("look-%d", time.Now().UnixNano())
	r := newReader(t, address, o)
	time.Sleep(150 * time.Millisecond) // there is no message that says that was all
	m := map[string]string{}
	for _, g := range r.all() {
		if g.retained {
			m[g.topic] = g.payload
		}
	}
	r.c.Disconnect(50)
	return m
}

// wantRetained waits until a broker retains exactly this, the about payload apart.
func wantRetained(t testing.TB, address string, o readerOpts, want map[string]string) {
	t.Helper()
	var d string
	for end := time.Now().Add(15 * time.Second); time.Now().Before(end); {
		now := retainedNow(t, address, o)
		delete(now, topics.About())
		if d = cmp.Diff(want, now); d == "" {
			return
		}
	}
	t.Errorf("within 15 s the topics do not hold what they should: %s", d)
}

// bed is a small standing: one place, one pot, alerts as given.
func bed(at time.Time, as ...alerts.Alert) *alerts.Standing {
	g := &garden.Garden{Places: []garden.Place{{ID: "table"}}, Pots: []garden.Pot{{ID: "D7"}}}
	return &alerts.Standing{At: at, Garden: g, Alerts: as, Places: []alerts.PlaceStanding{{Place: &g.Places[0]}},
		Pots: []alerts.PotStanding{{Pot: &g.Pots[0], Place: "table", Verdict: "nothing to do"}}}
}

// secretFile is a file only we can read.
func secretFile(t testing.TB, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
