package push

import (
	"context"
	"errors"
	"sync"
	"time"

	"lathwatch/sensors/drivers"
	"lathwatch/sensors/table"
)

// A Listener reads probes' topics from the broker that the mqtt way publishes to, outside or inside. It has a connection of
// its own, so that a flood of readings holds no message up, and subscribes anew after every reconnect: a broker that was
// restarted has forgotten us.
type Listener struct {
	wire wire
	env  Env

	mu   sync.Mutex // guards what follows
	subs []subscription
	more chan struct{} // closed when one was added
}

type subscription struct {
	filter string
	handle func(drivers.Arrival)
}

// NewListener reads the mqtt way's own table; an empty one means the broker inside. It touches no network until Run.
func NewListener(cfg table.Raw, env Env) (*Listener, error) {
	r, err := openMQTT(cfg, env)
	if err != nil {
		return nil, err
	}
	l := &Listener{wire: r.(*mqttWay).wire, env: env.withDefaults(), more: make(chan struct{})}
	switch w := l.wire.(type) {
	case *pahoWire:
		w.status, w.set.ClientID = "", w.set.ClientID+"-in"
	case *localWire:
		w.status = ""
	}
	return l, nil
}

// Subscribe asks for a filter, now and after every reconnect. handle must only enqueue: everything else that arrives waits for it.
func (l *Listener) Subscribe(filter string, handle func(drivers.Arrival)) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.subs = append(l.subs, subscription{filter, handle})
	close(l.more)
	l.more = make(chan struct{})
	return nil
}

// Run listens until ctx ends.
func (l *Listener) Run(ctx context.Context) error {
	l.wire.run(ctx, l.serve)
	return ctx.Err()
}

// serve asks for every filter on one connection. One that is refused is told and asked for again later; the others go on.
func (l *Listener) serve(ctx context.Context, to link) error {
	granted := map[int]bool{}
	for {
		l.mu.Lock()
		subs, more := l.subs, l.more
		l.mu.Unlock()
		var again <-chan time.Time
		for i, s := range subs {
			if granted[i] {
				continue
			}
			err := to.subscribe(ctx, s.filter, s.pass)
			if err != nil && !errors.Is(err, errDenied) {
				return err
			}
			if granted[i] = err == nil; !granted[i] {
				l.env.Trouble(TroubleRefused, "the broker at "+l.wire.where()+" does not let us listen on "+s.filter+": its probes stay silent")
				again = time.After(listenAgain)
			}
		}
		if again == nil {
			l.env.Trouble(TroubleRefused, "")
		}
		select {
		case <-ctx.Done():
			return nil
		case <-more:
		case <-again:
		}
	}
}

func (s subscription) pass(topic string, payload []byte, retained bool) {
	s.handle(drivers.Arrival{Topic: topic, Payload: payload, Retained: retained, At: time.Now().UTC()})
}
