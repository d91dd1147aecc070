package push

import (
	"context"
	"time"

	"lathwatch/alerts"
)

// quietFor is how long the outbox must have been empty before stale alert topics are emptied, so that an alert's last message
// goes out before its topic is cleared.
const quietFor = time.Second

// session is what the mqtt way knows over all its connections. Only the goroutine in serve touches it.
type session struct {
	way    *mqttWay
	notes  chan []byte
	ours   *holdings
	denied bool // the note topic was refused and the keeper told so
}

func newSession(m *mqttWay) *session {
	return &session{way: m, notes: make(chan []byte, maxNotes), ours: newHoldings(m.env, m.topics)}
}

// serve works one connection: first the state as it is, then changes as they come.
func (s *session) serve(ctx context.Context, l link) error {
	env := s.way.env
	drain(env.Updates) // rounds from before the connection: the standing below is newer
	if err := s.greet(ctx, l); err != nil {
		return err
	}
	letters := newReader(ctx, env)
	defer letters.stop()
	quiet := time.NewTimer(quietFor)
	defer quiet.Stop()
	again := s.listen(ctx, l)
	for {
		var err error
		select {
		case <-ctx.Done():
			return nil
		case letter := <-letters.c:
			if err = s.deliver(ctx, l, letter); err == nil {
				letters.done(ctx, letter.Seq)
				quiet.Reset(quietFor)
			}
		case up := <-env.Updates:
			err = s.show(ctx, l, up)
			quiet.Reset(quietFor)
		case <-quiet.C:
			err = s.ours.clearStale(ctx, l)
		case <-again:
			again = s.listen(ctx, l)
		}
		if err != nil {
			return err
		}
	}
}

func drain(c <-chan Update) {
	for {
		select {
		case <-c:
		default:
			return
		}
	}
}

// greet publishes, on every connection anew, that we are there, what our topics are, and every state that holds now: a broker
// may have lost what it had acknowledged.
func (s *session) greet(ctx context.Context, l link) error {
	t := s.way.topics
	err := l.publish(ctx,
		publication{t.Status(), []byte("online"), 1, true},
		publication{t.About(), t.aboutPayload(s.way.notes, s.way.set.Readings), 1, true})
	if err != nil {
		return err
	}
	s.ours.forgetPublished()
	if st := s.way.env.State(); st != nil {
		return s.ours.match(ctx, l, st)
	}
	return nil
}

// show publishes a round's readings and what the standing has become.
func (s *session) show(ctx context.Context, l link, up Update) error {
	if s.way.set.Readings && up.Round != nil {
		var ps []publication
		for _, r := range up.Round.Readings {
			if payload, ok := Reading(s.way.env.Site, up.Round, r); ok {
				ps = append(ps, publication{s.way.topics.Reading(string(r.Probe)), payload, 0, false})
			}
		}
		if err := l.publish(ctx, ps...); err != nil {
			return err
		}
	}
	if up.Standing == nil {
		return nil
	}
	return s.ours.match(ctx, l, up.Standing)
}

// deliver publishes one change: a raised alert's topic before its message, a cleared one's after it.
func (s *session) deliver(ctx context.Context, l link, letter Letter) error {
	c := letter.Change
	if standing(c) {
		if err := s.ours.raise(ctx, l, c, s.way.env.State()); err != nil {
			return err
		}
	}
	if text := letter.Says(); text != "" {
		if err := l.publish(ctx, publication{s.way.topics.Message(), alerts.SentMessage(c, text), 1, false}); err != nil {
			return err
		}
	}
	if c.State == alerts.Cleared {
		return s.ours.clear(ctx, l, c)
	}
	return nil
}
