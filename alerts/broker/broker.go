package broker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"

	mqtt "github.com/mochi-mqtt/server/v2"
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
	maxClients    = 256
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
	d, err := newDoor(cfg.Listen, cfg.Log)
	if err != nil {
		return nil, err
	}
	b := &Broker{server: server, door: d, guard: guard}
	if err := server.AddListener(d); err != nil {
		d.close()
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
	// The library takes a lock twice when it closes, and hangs for ever if a client leaves in between: so they have all left.
	_ = b.server.Close() // it has nothing to write and reports nothing
}

// Addr is the address it listens on.
func (b *Broker) Addr() string { return b.door.Address() }

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
