package daemon

import (
	"context"
	"encoding/hex"
	"time"

	"lathwatch/alerts/push"
	"lathwatch/daemon/journal"
)

// sessions keeps the page's sessions in the journal.
type sessions struct{ j *journal.Journal }

// Session gives when a session ends; the zero time when there is none.
func (s sessions) Session(ctx context.Context, hash [32]byte) (time.Time, error) {
	until, ok, err := s.j.Session(ctx, hex.EncodeToString(hash[:]))
	if !ok {
		until = time.Time{}
	}
	return until, err
}

// KeepSession keeps a session until it ends.
func (s sessions) KeepSession(ctx context.Context, hash [32]byte, until time.Time) error {
	return s.j.SetSession(ctx, hex.EncodeToString(hash[:]), until, "")
}

// DropSession ends a session.
func (s sessions) DropSession(ctx context.Context, hash [32]byte) error {
	return s.j.DropSession(ctx, hex.EncodeToString(hash[:]))
}

// retained remembers over restarts on which topics we hold a payload.
type retained struct{ j *journal.Journal }

// SetRetained notes or forgets a topic.
func (r retained) SetRetained(ctx context.Context, topic string, payload []byte) error {
	return r.j.SetRetained(ctx, topic, payload)
}

// Retained lists the topics with what we hold there.
func (r retained) Retained(ctx context.Context) ([]push.Kept, error) {
	topics, err := r.j.Retained(ctx)
	kept := make([]push.Kept, len(topics))
	for i, t := range topics {
		kept[i] = push.Kept{Topic: t.Topic, Payload: t.Payload}
	}
	return kept, err
}
