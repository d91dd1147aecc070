package push

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"

	gomail "github.com/wneessen/go-mail"
)

// send mails a letter to each address on its own: one refused address does not keep it from the others, and a repeat goes only
// to those who have not got it.
func (w *mailWay) send(ctx context.Context, l Letter) error {
	if w.key != l.Change.Key {
		w.key, w.taken = l.Change.Key, map[string]bool{}
	}
	to := w.set.To
	if l.Change.To == "sitter" && w.set.Sitter != "" {
		to = []string{w.set.Sitter}
	}
	var errs []error
	for _, a := range to {
		if w.taken[a] {
			continue
		}
		if err := w.sendTo(ctx, l, a); err != nil {
			errs = append(errs, fmt.Errorf("mailing %s: %w", a, err))
			continue
		}
		w.taken[a] = true
	}
	for _, err := range errs { // one that may yet be taken keeps the letter going
		if f := (*failure)(nil); !errors.As(err, &f) || !f.final {
			return err
		}
	}
	return errors.Join(errs...)
}

func (w *mailWay) sendTo(ctx context.Context, l Letter, to string) error {
	m, err := w.message(ctx, l, to)
	if err != nil {
		return refused(err)
	}
	c, err := w.client()
	if err != nil {
		return err
	}
	done := make(chan error, 1)
	go func() { done <- c.DialAndSendWithContext(ctx, m) }() // the library minds ctx only while dialling; its own time-out ends it
	select {
	case err = <-done:
	case <-ctx.Done():
		return ctx.Err()
	}
	if err == nil || m.IsDelivered() {
		return nil // what fails after the server has taken the message (RSET, QUIT) must not send it again
	}
	var se *gomail.SendError
	if errors.As(err, &se) && !se.IsTemp() && se.ErrorCode() >= 500 {
		return refused(err)
	}
	return err
}

func (w *mailWay) message(ctx context.Context, l Letter, to string) (*gomail.Msg, error) {
	m := gomail.NewMsg(gomail.WithNoDefaultUserAgent())
	if err := m.From(w.set.From); err != nil {
		return nil, err
	}
	if err := m.To(to); err != nil {
		return nil, err
	}
	m.Subject(subject(l.Headline()))
	m.SetDateWithValue(l.Change.At.UTC())
	sum := sha256.Sum256([]byte(w.env.Site + " " + l.Change.Key + " " + to))
	m.SetMessageIDWithValue(hex.EncodeToString(sum[:12]) + "@" + segment(w.env.Site) + ".invalid") // the same for a repeat
	m.SetGenHeader("Auto-Submitted", "auto-generated")                                             // RFC 3834: no holiday replies
	m.SetBodyString(gomail.TypeTextPlain, l.Says()+"\n")
	w.attach(ctx, m, l)
	return m, nil
}

// attach adds the curve. A message without its picture is worth more than none.
func (w *mailWay) attach(ctx context.Context, m *gomail.Msg, l Letter) {
	if w.env.Picture == nil {
		return
	}
	name, data, err := w.env.Picture(ctx, l.Change.Key)
	if err == nil && len(data) > 0 {
		err = m.AttachReader(name, bytes.NewReader(data))
	}
	if err != nil {
		w.env.Log.Warn("no picture for a mail", "key", l.Change.Key, "err", err)
	}
}
