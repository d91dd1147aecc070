package journal

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
)

// AddNote writes a note and the changes it caused in one transaction. The same note twice is one note. A note without an id gets
// one made of its time, subject and content.
func (j *Journal) AddNote(ctx context.Context, n sensors.Note, changes []alerts.Change) error {
	if n.At.IsZero() || n.Subject == "" || !n.What.Known() {
		return fmt.Errorf("keeping a note: it needs a time, a subject and one of the known words, not %q", n.What)
	}
	if n.ID == "" {
		n.ID = digest(fmt.Sprint(stamp(n.At)), n.Subject, string(n.What), n.Detail)
	}
	fresh := false
	err := j.do(ctx, "keeping a note", func() error {
		_, err := j.c.exec("insert or ignore into note (id, at, made, about, subject, what, detail) values (?, ?, ?, ?, ?, ?, ?)",
			n.ID, stamp(n.At), stamp(n.Made), n.About.Milliseconds(), n.Subject, string(n.What), n.Detail)
		if err != nil {
			return err
		}
		fresh, err = j.record(changes)
		return err
	})
	if err == nil {
		j.sayHad()
	}
	if fresh && err == nil {
		j.wake()
	}
	return err
}

// AddGarden writes the text of garden.toml that is in force from an instant on, unless it is the text in force there already.
func (j *Journal) AddGarden(ctx context.Context, at time.Time, text string) error {
	return j.do(ctx, "keeping the garden's text", func() error {
		last, ok, err := j.c.word("select text from garden where at <= ? order by at desc, id desc limit 1", stamp(at))
		if err != nil || ok && last == text {
			return err
		}
		_, err = j.c.exec("insert or ignore into garden (at, id, text) values (?, ?, ?)", stamp(at), digest(text), text)
		return err
	})
}

func digest(parts ...string) string {
	h := sha256.New()
	for _, p := range parts {
		fmt.Fprintf(h, "%d:%s", len(p), p)
	}
	return hex.EncodeToString(h.Sum(nil)[:8])
}
