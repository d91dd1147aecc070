package push

import (
	"context"
	"errors"
	"sync"
	"time"

	"lathwatch/sensors/table"
)

// An Inlet hands out what other programs publish on the outside broker, for probes that arrive as messages. It has a
// connection of its own, so that a flood of readings holds no message up.
type Inlet struct {
	wire wire
	env  Env

	mu      sync.Mutex // guards what follows
	filters []inletFilter
	more    chan struct{} // closed when a filter was added
}

type inletFilter struct {
	filter string
	handle func(topic string, payload []byte, retained bool)
}

// OpenInlet opens an inlet to the broker of a [push.mqtt] table. It touches no network until Run.
func OpenInlet(cfg table.Raw, env Env) (*Inlet, error) {
	r, err := openMQTT(cfg, env)
	if err != nil {
		return nil, err
	}
	w, ok := r.(*mqttWay).wire.(*pahoWire)
	if !ok {
		return nil, errors.New("an inlet is for an outside broker: ask the one inside directly")
	}
	w.set.ClientID += "-in"
	w.status = ""
	return &Inlet{wire: w, env: env.withDefaults(), more: make(chan struct{})}, nil
}

// Name is the inlet's in the roster of goroutines.
func (in *Inlet) Name() string { return "mqtt-in" }

// Subscribe asks for a filter, on every connection anew. handle must only enqueue: everything else that arrives waits for it.
func (in *Inlet) Subscribe(filter string, handle func(topic string, payload []byte, retained bool)) error {
	in.mu.Lock()
	defer in.mu.Unlock()
	in.filters = append(in.filters, inletFilter{filter, handle})
	close(in.more)
	in.more = make(chan struct{})
	return nil
}

// Run keeps the connection until ctx ends.
func (in *Inlet) Run(ctx context.Context) error {
	in.wire.run(ctx, in.serve)
	return ctx.Err()
}

func (in *Inlet) serve(ctx context.Context, l link) error {
	granted := map[int]bool{}
	for {
		in.mu.Lock()
		filters, more := in.filters, in.more
		in.mu.Unlock()
		var again <-chan time.Time
		for i, f := range filters {
			if granted[i] {
				continue
			}
			err := l.subscribe(ctx, f.filter, f.handle)
			switch {
			case err == nil:
				granted[i] = true
			case errors.Is(err, errDenied):
				in.env.Trouble(TroubleRefused, "the broker at "+in.wire.where()+" does not let us listen on "+f.filter+": its probes stay silent")
				again = time.After(listenAgain)
			default:
				return err
			}
		}
		select {
		case <-ctx.Done():
			return nil
		case <-more:
		case <-again:
		}
	}
}
