package journal

import (
	"context"
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"iter"
	"time"

	"lathwatch/alerts"
)

// record writes changes within the open transaction; a key that is known already is left as it is, so that each is in the journal
// exactly once. It reports whether any was new.
func (j *Journal) record(changes []alerts.Change) (fresh bool, err error) {
	for i := range changes {
		c := &changes[i]
		if c.Key == "" {
			return false, fmt.Errorf("a change of %s without a key", c.Kind)
		}
		pots := "[]"
		if len(c.Pots) > 0 {
			b, err := json.Marshal(c.Pots)
			if err != nil {
				return false, err
			}
			pots = string(b)
		}
		n, err := j.c.exec(`insert or ignore into change (key, at, kind, rank, state, subject, place, pots, text, recipient, until, saw)
			values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, c.Key, stamp(c.At), c.Kind, int64(c.Rank), int64(c.State), c.Subject, c.Place, pots,
			c.Text, c.To, stamp(c.Until), c.Saw)
		if err != nil {
			return false, err
		}
		fresh = fresh || n > 0
	}
	return fresh, nil
}

// Record writes changes that no round caused (a start, late data). Keys already known are ignored.
func (j *Journal) Record(ctx context.Context, changes []alerts.Change) error {
	if len(changes) == 0 {
		return nil
	}
	fresh := false
	err := j.do(ctx, "recording changes", func() (err error) {
		fresh, err = j.record(changes)
		return err
	})
	if err == nil && fresh {
		j.wake()
	}
	return err
}

const changeColumns = "seq, key, at, kind, rank, state, subject, place, pots, text, recipient, until, saw"

func changeOf(row []driver.Value) (int64, alerts.Change, error) {
	c := alerts.Change{Key: row[1].(string), At: unstamp(row[2].(int64)), Kind: row[3].(string), Rank: alerts.Rank(row[4].(int64)),
		State: alerts.State(row[5].(int64)), Subject: row[6].(string), Place: row[7].(string), Text: row[9].(string), To: row[10].(string),
		Until: unstamp(row[11].(int64)), Saw: row[12].(string)}
	if p := row[8].(string); p != "[]" {
		if err := json.Unmarshal([]byte(p), &c.Pots); err != nil {
			return 0, c, fmt.Errorf("reading the pots of %s: %w", c.Key, err)
		}
	}
	return row[0].(int64), c, nil
}

// Changes is the record from an instant on, in the order in which it was written.
func (j *Journal) Changes(ctx context.Context, from time.Time) iter.Seq2[alerts.Change, error] {
	const atOnce = 500
	return func(yield func(alerts.Change, error) bool) {
		after := int64(0)
		for {
			var cs []alerts.Change
			err := j.with(ctx, "reading the record of changes", func() error {
				return j.c.query("select "+changeColumns+" from change where seq > ? and at >= ? order by seq limit ?",
					func(row []driver.Value) error {
						seq, c, err := changeOf(row)
						after, cs = seq, append(cs, c)
						return err
					}, after, stamp(from), int64(atOnce))
			})
			if err != nil {
				yield(alerts.Change{}, err)
				return
			}
			for _, c := range cs {
				if !yield(c, nil) {
					return
				}
			}
			if len(cs) < atOnce {
				return
			}
		}
	}
}
