package broker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"sync"
	"sync/atomic"
	"time"

	mqtt "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"

	"lathwatch/alerts/push"
	"lathwatch/sensors/garden"
)

// Config is the broker's door and who may come in.
type Config struct {
	garden.Broker        // Listen defaults to 127.0.0.1:1883
	Site          string // whose note topic clients with the password may publish to
	// Inlets are further topic filters that clients with the password may publish to: those of probes read over MQTT.
	Inlets []string
	Log    *slog.Logger // nil: silent
}

const (
	defaultListen = "127.0.0.1:1883"
	maxPending    = 4096 // messages: a new reader gets every retained topic at once
	maxClients    = 64
	closeLimit    = 3 * time.Second
	maxPacket     = 64 << 10     // bytes
	maxInflight   = 1024         // unacknowledged per client
	keepSession   = 24 * 60 * 60 // seconds a client's session outlives its connection
	sysEvery      = 60 * 60      // seconds between the broker's own figures: each stops the program for a moment
)

// A Broker listens from New on and serves until Run ends.
type Broker struct {
	server *mqtt.Server
	door   *door
	guard  *guard

	mu   sync.Mutex // guards what follows
	subs int
}

// New checks the configuration, reads the password and opens the door. Publishing works from now on; clients are served once
// Run is called. Run must be called, or Close.
func New(cfg Config) (*Broker, error) {
	if cfg.Listen == "" {
		cfg.Listen = defaultListen
	}
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	guard, err := newGuard(cfg)
	if err != nil {
		return nil, err
	}
	server := mqtt.New(options(cfg))
	if err := server.AddHook(guard, nil); err != nil {
		return nil, fmt.Errorf("setting up the broker: %w", err)
	}
	l, err := net.Listen("tcp", cfg.Listen)
	if err != nil {
		return nil, fmt.Errorf("opening the broker's door: %w", err)
	}
	b := &Broker{server: server, door: &door{Listener: l, log: cfg.Log, in: map[*client]bool{}}, guard: guard}
	if err := server.AddListener(listeners.NewNet("door", b.door)); err != nil {
		l.Close()
		return nil, fmt.Errorf("setting up the broker: %w", err)
	}
	return b, nil
}

// Check reports in a sentence what New would refuse, without opening anything.
func Check(cfg Config) error {
	if cfg.Listen == "" {
		cfg.Listen = defaultListen
	}
	_, err := newGuard(cfg)
	return err
}

func options(cfg Config) *mqtt.Options {
	c := mqtt.NewDefaultServerCapabilities()
	c.MaximumMessageExpiryInterval = 0 // the default drops retained states after a day
	c.MaximumClients = maxClients
	c.MaximumPacketSize = maxPacket
	c.MaximumInflight = maxInflight
	c.MaximumSessionExpiryInterval = keepSession
	c.MaximumClientWritesPending = maxPending
	return &mqtt.Options{Capabilities: c, InlineClient: true, SysTopicResendInterval: sysEvery, Logger: slog.New(quieter{cfg.Log.Handler()})}
}

// Run serves until ctx ends. It returns ctx's error, or why it could not begin.
func (b *Broker) Run(ctx context.Context) error {
	if err := b.server.Serve(); err != nil {
		return fmt.Errorf("starting the broker: %w", err)
	}
	<-ctx.Done()
	b.Close()
	return ctx.Err()
}

// Close ends the broker and every connection to it.
func (b *Broker) Close() {
	b.mu.Lock()
	ended := b.subs < 0
	b.subs = -1
	b.mu.Unlock()
	if ended {
		return
	}
	b.door.close()
	// The library takes a lock twice when it closes, and hangs if a client leaves in between: so let them leave first, and do
	// not wait for ever.
	within(closeLimit, b.server.Listeners.ClientsWg.Wait)
	within(closeLimit, func() { _ = b.server.Close() }) // it has nothing to write and reports nothing
}

// within runs f and waits for its end at most so long.
func within(limit time.Duration, f func()) {
	done := make(chan struct{})
	go func() { f(); close(done) }()
	select {
	case <-done:
	case <-time.After(limit):
	}
}

// Addr is the address it listens on.
func (b *Broker) Addr() string { return b.door.Addr().String() }

// Asks reports whether clients must give a password before they may publish.
func (b *Broker) Asks() bool { return b.guard.hash != nil }

var _ push.Local = (*Broker)(nil)

// Publish sends to every reader of the topic. It never waits for one.
func (b *Broker) Publish(topic string, payload []byte, retain bool, qos byte) error {
	b.guard.scan.Lock()
	defer b.guard.scan.Unlock()
	return b.server.Publish(topic, payload, retain, qos)
}

// Subscribe calls handle for what clients publish on a filter, and at once for what is retained there. handle must only enqueue.
func (b *Broker) Subscribe(filter string, handle func(topic string, payload []byte, retained bool)) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.subs < 0 {
		return errors.New("subscribing: the broker has ended")
	}
	b.subs++
	// What is retained is handed over before the call returns; a live message may carry the flag as well.
	var asking atomic.Bool
	asking.Store(true)
	b.guard.scan.Lock()
	defer b.guard.scan.Unlock()
	defer asking.Store(false)
	return b.server.Subscribe(filter, b.subs, func(_ *mqtt.Client, _ packets.Subscription, p packets.Packet) {
		handle(p.TopicName, p.Payload, p.FixedHeader.Retain && asking.Load())
	})
}
