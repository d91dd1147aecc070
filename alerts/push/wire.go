package push

import (
	"context"
	"errors"
	"time"

	"lathwatch/alerts"
)

// A publication is one MQTT message to be sent.
type publication struct {
	topic   string
	payload []byte
	qos     byte
	retain  bool
}

// A wire holds the way to a broker.
type wire interface {
	// run keeps the connection until ctx ends. It calls serve once a connection, one call at a time, with a context that ends
	// with that connection; serve's error is why it gave the connection up.
	run(ctx context.Context, serve func(ctx context.Context, l link) error)
	// once sends one publication over a connection of its own.
	once(ctx context.Context, p publication) error
	where() string // for people
}

// A link is one connection that stands.
type link interface {
	// publish returns nil once every publication has been acknowledged and the connection was not lost in between.
	publish(ctx context.Context, ps ...publication) error
	// subscribe returns nil once the broker has granted the filter. handle must only enqueue.
	subscribe(ctx context.Context, filter string, handle func(topic string, payload []byte, retained bool)) error
}

var (
	errLost    = errors.New("connection lost before the broker had acknowledged")
	errNoReply = errors.New("the broker has not acknowledged in time")
	errDenied  = errors.New("the broker refused the subscription")
)

// testLetter is a message that says it is a test.
func testLetter(at time.Time) Letter {
	at = at.UTC().Truncate(time.Second)
	return Letter{Change: alerts.Change{Key: "test-" + at.Format("20060102T150405Z"), At: at, Kind: "test", Rank: alerts.Week, State: alerts.Said,
		Subject: "garden", Text: testText, Until: at.Add(time.Hour)}}
}

const testText = "This is a test: messages from the garden reach you this way."

// localWire speaks to the broker in this process: it cannot be lost, so there is one link for as long as the daemon runs.
type localWire struct {
	local  Local
	status string // topic that says offline at the end; empty: none
}

func (w *localWire) where() string { return "the broker inside" }

func (w *localWire) run(ctx context.Context, serve func(context.Context, link) error) {
	var p patience
	for serve(ctx, w) != nil && ctx.Err() == nil {
		p.wait(ctx, 0)
	}
	<-ctx.Done()
	if w.status == "" {
		return
	}
	_ = w.local.Publish(w.status, []byte("offline"), true, 1) // the broker may be gone already
}

func (w *localWire) once(ctx context.Context, p publication) error { return w.publish(ctx, p) }

func (w *localWire) publish(_ context.Context, ps ...publication) error {
	for _, p := range ps {
		if err := w.local.Publish(p.topic, p.payload, p.retain, p.qos); err != nil {
			return err
		}
	}
	return nil
}

func (w *localWire) subscribe(_ context.Context, filter string, handle func(string, []byte, bool)) error {
	return w.local.Subscribe(filter, handle)
}
