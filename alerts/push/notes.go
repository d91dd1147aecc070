package push

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"lathwatch/sensors"
)

const (
	maxNotes    = 32   // waiting to be taken
	maxNoteSize = 4096 // bytes
	listenAgain = time.Minute
)

// listen asks for the note topic, on every connection anew: a broker that was restarted has forgotten us. What it returns asks
// again later; nil when there is nothing to ask again.
func (s *session) listen(ctx context.Context, l link) <-chan time.Time {
	if !s.way.notes {
		return nil
	}
	err := l.subscribe(ctx, s.way.topics.Note(), s.arrived)
	switch {
	case err == nil:
		if s.denied {
			s.denied = false
			s.way.env.Trouble(TroubleRefused, "")
		}
		return nil
	case errors.Is(err, errDenied) && !s.denied:
		s.denied = true
		s.way.env.Trouble(TroubleRefused, "the broker at "+s.way.wire.where()+" does not let us listen on "+s.way.topics.Note()+": notes sent there do not arrive")
	}
	s.way.env.Log.Warn("listening for notes", "err", err)
	return time.After(listenAgain)
}

// arrived only enqueues: the client library stands still while it runs. A retained note is of unknown age and would be taken
// again after every reconnect, so it is not taken at all.
func (s *session) arrived(_ string, payload []byte, retained bool) {
	if retained || len(payload) == 0 {
		return
	}
	if len(payload) > maxNoteSize {
		s.lose("a note of over 4 KiB was not taken")
		return
	}
	select {
	case s.notes <- bytes.Clone(payload):
	default:
		s.lose("notes came faster than they could be taken: some were lost")
	}
}

func (s *session) lose(text string) {
	n := s.way.lost.Add(1)
	s.way.env.Trouble(TroubleNotes, fmt.Sprintf("%s (%d so far)", text, n))
}

// takeNotes hands what arrived to the daemon, in order, away from the connection. The function it returns waits for its end.
func (s *session) takeNotes(ctx context.Context) (stop func()) {
	if !s.way.notes {
		return func() {}
	}
	ctx, end := context.WithCancel(ctx)
	over := make(chan struct{})
	go func() {
		defer close(over)
		for {
			select {
			case <-ctx.Done():
				return
			case payload := <-s.notes:
				if err := s.way.env.NoteTaker(ctx, payload); err != nil {
					s.lose("a note that came in by MQTT was not taken: " + err.Error())
				}
			}
		}
	}()
	return func() { end(); <-over }
}

// lostNotes counts what did not become a note.
type lostNotes struct{ atomic.Int64 }

// DecodeNote reads a payload of the note topic: one JSON object with subject and what, and if wanted at (RFC 3339, with offset;
// default: now), about (uncertainty either side, such as "12h"), detail and id. Unknown keys are refused.
func DecodeNote(payload []byte, now time.Time) (sensors.Note, error) {
	var in struct {
		ID      string     `json:"id"`
		At      *time.Time `json:"at"`
		About   string     `json:"about"`
		Subject string     `json:"subject"`
		What    string     `json:"what"`
		Detail  string     `json:"detail"`
	}
	dec := json.NewDecoder(bytes.NewReader(payload))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&in); err != nil {
		return sensors.Note{}, fmt.Errorf("reading a note: %w", err)
	}
	if dec.More() {
		return sensors.Note{}, errors.New("reading a note: something follows the JSON object")
	}
	n := sensors.Note{ID: in.ID, At: now.UTC(), Made: now.UTC(), Subject: in.Subject, What: sensors.What(in.What), Detail: in.Detail}
	if in.At != nil {
		n.At = in.At.UTC()
	}
	if in.About != "" {
		about, err := time.ParseDuration(in.About)
		if err != nil || about < 0 {
			return sensors.Note{}, fmt.Errorf("reading a note: about %q is no length of time: write it like \"12h\"", in.About)
		}
		n.About = about
	}
	if n.Subject == "" {
		return sensors.Note{}, errors.New("reading a note: it has no subject: name a pot, plant or place, or \"all:dry-winter\"")
	}
	if !n.What.Known() {
		return sensors.Note{}, fmt.Errorf("reading a note: what %q is not known: write one of %v", in.What, sensors.Whats)
	}
	return n, nil
}
