package push

import (
	"cmp"
	"context"
	"log/slog"
	"slices"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/table"
)

// A Way is one entry of the shelf: one way out to the keeper.
type Way struct {
	Name    string // the table's name in garden.toml: [push.mqtt]
	Doc     string // one sentence for the keeper
	Example string // the keys of a block that passes; the exam and the reference print it
	// Open decodes the way's own table strictly and returns what runs it. It reads the secrets it names; it touches no network.
	Open func(cfg table.Raw, env Env) (Runner, error)
}

// A Runner is one way out at work.
type Runner interface {
	Name() string
	// Run delivers until ctx ends. Trouble with the network is retried inside: it returns only ctx's error.
	Run(ctx context.Context) error
	// Test sends one message that says it is a test, and returns once the other side has taken it. It may be called beside
	// Run or without it.
	Test(ctx context.Context) error
}

// Env is what the daemon lends a way. Only Site must be set; what is nil or zero is done without.
type Env struct {
	Site      string // site id, part of every topic
	Machine   string // stable suffix of this machine for client ids; empty: made from the machine's id
	Outbox    Outbox
	Picture   Picture
	NoteTaker NoteTaker
	Log       *slog.Logger
	State     func() *alerts.Standing // the current standing; nil until there is one
	Retained  Retained
	Updates   <-chan Update // new rounds; a slow way loses some of them, never changes
	Local     Local         // the embedded broker; nil when there is none
	// Trouble tells the daemon what only the keeper can mend; an empty text says that the trouble of this kind is over.
	Trouble func(kind, text string)
}

// An Update is a new round and the standing folded from it.
type Update struct {
	Round    *sensors.Round
	Standing *alerts.Standing
}

// A Kept is one topic we hold a retained payload on.
type Kept struct {
	Topic   string
	Payload []byte
}

// Retained remembers, over restarts, on which topics we hold a retained payload, so that what has become stale can be cleared.
// An alert's payload is kept in full. A pot's state changes every round: of its topic only the first payload is kept, to spare
// the card. An empty payload forgets the topic.
type Retained interface {
	SetRetained(ctx context.Context, topic string, payload []byte) error
	Retained(ctx context.Context) ([]Kept, error)
}

// Local is the embedded broker, spoken to without a network.
type Local interface {
	Publish(topic string, payload []byte, retain bool, qos byte) error
	// Subscribe calls handle for what other clients publish; handle must only enqueue.
	Subscribe(filter string, handle func(topic string, payload []byte, retained bool)) error
	// Asks reports whether clients must give a password before they may publish.
	Asks() bool
}

// Kinds of trouble only the keeper can mend.
const (
	TroubleInUse    = "id-in-use"      // another client uses our client id
	TroubleClock    = "clock"          // the broker's certificate is not valid yet: this board's clock is wrong
	TroublePassword = "wrong-password" // refused for its name or password
	TroubleTrust    = "not-trusted"    // the certificate is not one we trust
	TroubleSilent   = "broker-silent"  // the other side has not answered for a while
	TroubleRefused  = "refused"        // a message or subscription was refused for good and set aside
	TroubleNotes    = "notes-lost"     // notes came faster than they could be taken, or could not be read
)

var shelf []Way

func add(w Way) { shelf = append(shelf, w) }

// All lists the ways out, sorted by name.
func All() []Way {
	all := slices.Clone(shelf)
	slices.SortFunc(all, func(a, b Way) int { return cmp.Compare(a.Name, b.Name) })
	return all
}

// Named finds a way.
func Named(name string) (Way, bool) {
	for _, w := range shelf {
		if w.Name == name {
			return w, true
		}
	}
	return Way{}, false
}

// withDefaults makes every call of env safe, so that ways need not ask.
func (e Env) withDefaults() Env {
	if e.Log == nil {
		e.Log = slog.New(slog.DiscardHandler)
	}
	if e.Trouble == nil {
		e.Trouble = func(string, string) {}
	}
	if e.State == nil {
		e.State = func() *alerts.Standing { return nil }
	}
	if e.Retained == nil {
		e.Retained = forgetful{}
	}
	return e
}

type forgetful struct{}

func (forgetful) SetRetained(context.Context, string, []byte) error { return nil }
func (forgetful) Retained(context.Context) ([]Kept, error)          { return nil, nil }
