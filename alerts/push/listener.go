package push

import (
	"context"
	"sync"
	"time"

	"lathwatch/sensors/drivers"
	"lathwatch/sensors/table"
)

// A Listener reads probes' topics from the broker that the mqtt way publishes to, over a connection of its own. It subscribes
// anew after every reconnect: a broker that was restarted has forgotten us.
type Listener struct {
	way  *mqttWay
	mu   sync.Mutex
	subs []subscription
	more chan struct{}
}

type subscription struct {
	filter string
	handle func(drivers.Arrival)
}

// NewListener reads the mqtt way's own table; a zero table means the broker inside.
func NewListener(cfg table.Raw, env Env) (*Listener, error) {
	r, err := openMQTT(cfg, env)
	if err != nil {
		return nil, err
	}
	way := r.(*mqttWay)
	if w, ok := way.wire.(*pahoWire); ok {
		w.status, w.set.ClientID = "", w.set.ClientID+"-in"
	} else {
		way.wire = &innerWire{env.Local}
	}
	return &Listener{way: way, more: make(chan struct{}, 1)}, nil
}

// Subscribe asks for a filter now and after every reconnect. handle must only enqueue.
func (l *Listener) Subscribe(filter string, handle func(drivers.Arrival)) error {
	l.mu.Lock()
	l.subs = append(l.subs, subscription{filter, handle})
	l.mu.Unlock()
	select {
	case l.more <- struct{}{}:
	default:
	}
	return nil
}

// Run listens until ctx ends.
func (l *Listener) Run(ctx context.Context) error {
	l.way.wire.run(ctx, l.serve)
	return ctx.Err()
}

func (l *Listener) serve(ctx context.Context, to link) error {
	asked := 0
	for {
		l.mu.Lock()
		due := l.subs[asked:]
		l.mu.Unlock()
		again := listenAgain
		for _, s := range due {
			if err := to.subscribe(ctx, s.filter, s.pass); err != nil {
				l.way.env.Log.Warn("listening to a probe's topic", "filter", s.filter, "err", err)
				break
			}
			asked++
		}
		if asked < len(l.subs) {
			again = time.Second * 10
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-l.more:
		case <-time.After(again):
		}
	}
}

func (s subscription) pass(topic string, payload []byte, retained bool) {
	s.handle(drivers.Arrival{Topic: topic, Payload: payload, Retained: retained, At: time.Now().UTC()})
}

// innerWire listens to the broker in this process.
type innerWire struct{ local Local }

func (w *innerWire) where() string { return "the broker inside" }

func (w *innerWire) run(ctx context.Context, serve func(context.Context, link) error) {
	var p patience
	for serve(ctx, &localWire{local: w.local}) != nil && ctx.Err() == nil {
		p.wait(ctx, 0)
	}
}

func (w *innerWire) once(context.Context, publication) error { return nil }
