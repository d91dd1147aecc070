package push

import (
	"bytes"
	"context"
	"maps"
	"slices"
	"time"

	"lathwatch/alerts"
)

// holdings are the topics on which the broker holds a retained payload of ours: alerts while they stand, and pots. What they
// should be is the standing's; what they are is remembered in the journal, so that a topic that went stale while the daemon or
// the broker was away is emptied.
type holdings struct {
	env    Env
	topics Topics
	loaded bool
	kept   map[string][]byte // as remembered
	sent   map[string][]byte // as published on this connection
	wanted map[string]bool   // by the newest standing seen; nil: none seen yet
	at     time.Time         // of that standing
}

func newHoldings(env Env, t Topics) *holdings {
	return &holdings{env: env, topics: t, kept: map[string][]byte{}, sent: map[string][]byte{}}
}

// forgetPublished makes everything due again, on a new connection.
func (h *holdings) forgetPublished() { clear(h.sent) }

func (h *holdings) load(ctx context.Context) {
	if h.loaded {
		return
	}
	kept, err := h.env.Retained.Retained(ctx)
	if err != nil {
		h.env.Log.Error("reading which topics are in use", "err", err)
		return // asked again at the next standing
	}
	for _, k := range kept {
		if _, newer := h.kept[k.Topic]; !newer {
			h.kept[k.Topic] = k.Payload
		}
	}
	h.loaded = true
}

// match publishes what a standing wants retained, as far as it differs from what was published on this connection, and notes
// what it no longer wants.
func (h *holdings) match(ctx context.Context, l link, st *alerts.Standing) error {
	h.load(ctx)
	h.wanted, h.at = map[string]bool{}, st.At
	var due []publication
	for _, k := range h.topics.wantedAlerts(st) {
		h.wanted[k.Topic] = true
		if !bytes.Equal(h.sent[k.Topic], k.Payload) {
			h.remember(ctx, k.Topic, k.Payload)
			due = append(due, publication{k.Topic, k.Payload, 1, true})
		}
	}
	for i := range st.Pots {
		topic, payload := h.topics.Pot(st.Pots[i].Pot.ID), alerts.PotState(st, i)
		h.wanted[topic] = true
		if _, known := h.kept[topic]; !known {
			h.remember(ctx, topic, payload)
		}
		if !bytes.Equal(h.sent[topic], payload) {
			due = append(due, publication{topic, payload, 1, true})
		}
	}
	return h.publish(ctx, l, due)
}

// batch keeps the number of unacknowledged publications small: brokers limit how many they take at once.
const batch = 16

func (h *holdings) publish(ctx context.Context, l link, due []publication) error {
	for part := range slices.Chunk(due, batch) {
		if err := l.publish(ctx, part...); err != nil {
			return err
		}
		for _, p := range part {
			h.sent[p.topic] = p.payload
		}
	}
	return nil
}

// raise publishes the alert a change raised or worsened. The standing tells whether it still stands: a change that waited out
// an outage may speak of one that is long over, which is then said but not retained.
func (h *holdings) raise(ctx context.Context, l link, c alerts.Change, st *alerts.Standing) error {
	topic := h.topics.Alert(c.Kind, c.Subject)
	if st != nil && !st.At.Before(c.At) {
		for _, k := range h.topics.wantedAlerts(st) {
			if k.Topic == topic {
				return h.retain(ctx, l, k)
			}
		}
		return nil
	}
	if h.wanted != nil {
		h.wanted[topic] = true
	}
	return h.retain(ctx, l, Kept{topic, alerts.AlertState(alerts.Alert{Kind: c.Kind, Subject: c.Subject, Place: c.Place, Pots: c.Pots, Rank: c.Rank,
		Key: c.Key, Since: c.At, SaidAt: c.At, Text: c.Text})})
}

func (h *holdings) retain(ctx context.Context, l link, k Kept) error {
	if bytes.Equal(h.sent[k.Topic], k.Payload) {
		return nil
	}
	h.remember(ctx, k.Topic, k.Payload)
	return h.publish(ctx, l, []publication{{k.Topic, k.Payload, 1, true}})
}

// clear says an alert's last word on its topic and empties it, unless it has been raised again since.
func (h *holdings) clear(ctx context.Context, l link, c alerts.Change) error {
	topic := h.topics.Alert(c.Kind, c.Subject)
	if err := l.publish(ctx, publication{topic, alerts.AlertOver(c), 1, false}); err != nil {
		return err
	}
	if h.wanted[topic] && h.at.After(c.At) {
		return nil
	}
	delete(h.wanted, topic)
	return h.empty(ctx, l, topic)
}

// clearStale empties the topics no standing wants any more.
func (h *holdings) clearStale(ctx context.Context, l link) error {
	if h.wanted == nil {
		return nil // nothing is known yet: what is held may well still hold
	}
	h.load(ctx)
	for _, topic := range slices.Sorted(maps.Keys(h.kept)) {
		if h.wanted[topic] {
			continue
		}
		if err := h.empty(ctx, l, topic); err != nil {
			return err
		}
	}
	return nil
}

func (h *holdings) empty(ctx context.Context, l link, topic string) error {
	if err := l.publish(ctx, publication{topic, nil, 1, true}); err != nil {
		return err
	}
	delete(h.sent, topic)
	h.remember(ctx, topic, nil)
	return nil
}

// remember writes a topic down before anything is published on it, and forgets it only after it was emptied: the memory may
// name a topic too many, never one too few.
func (h *holdings) remember(ctx context.Context, topic string, payload []byte) {
	if payload == nil {
		delete(h.kept, topic)
	} else {
		h.kept[topic] = payload
	}
	if err := h.env.Retained.SetRetained(ctx, topic, payload); err != nil {
		h.env.Log.Error("remembering a topic in use", "topic", topic, "err", err)
	}
}
