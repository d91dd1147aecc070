package daemon

import (
	"context"
	"fmt"
	"slices"

	"lathwatch/alerts/broker"
	"lathwatch/alerts/push"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// topics hands probes what arrives on their topics, from the outside broker or the one inside.
type topics struct {
	listener *push.Listener
	err      error
}

// newTopics listens only when some probe is read over MQTT.
func newTopics(d *Daemon, local *broker.Broker) *topics {
	if len(inlets(d.garden)) == 0 {
		return &topics{}
	}
	env := push.Env{Site: d.garden.Site.ID, Log: d.cfg.Log, Trouble: func(kind, text string) { d.setTrouble("topics "+kind, text) }}
	if local != nil {
		env.Local = local
	}
	l, err := push.NewListener(mqttTable(d.garden), env)
	return &topics{l, err}
}

func (t *topics) needed() bool { return t.listener != nil }

// Subscribe asks for a filter now and after every reconnect.
func (t *topics) Subscribe(filter string, handle func(drivers.Arrival)) error {
	if t.listener == nil {
		return fmt.Errorf("subscribing to %s: there is no broker to listen to: %w", filter, t.err)
	}
	return t.listener.Subscribe(filter, handle)
}

// Run listens until ctx ends.
func (t *topics) Run(ctx context.Context) error { return t.listener.Run(ctx) }

func mqttTable(g *garden.Garden) table.Raw {
	if i := slices.IndexFunc(g.Push, func(r table.Raw) bool { return r.Name == "mqtt" }); i >= 0 {
		return g.Push[i]
	}
	return table.Raw{Name: "mqtt", Path: "push mqtt"}
}

// inlets lists the topic filters that probes are read from.
func inlets(g *garden.Garden) []string {
	var filters []string
	for _, p := range g.Probes {
		if p.Source.Zero() {
			continue
		}
		w, err := drivers.ParseProbe(p)
		if err == nil && w.Topic != "" && !slices.Contains(filters, w.Topic) {
			filters = append(filters, w.Topic)
		}
	}
	return filters
}
