package journal

import (
	"context"
	"database/sql/driver"
	"slices"
	"time"
)

// Mark reads a named whole number, such as how far a forwarder has come; ok is false when it was never set.
func (j *Journal) Mark(ctx context.Context, name string) (value int64, ok bool, err error) {
	err = j.with(ctx, "reading mark "+name, func() (err error) {
		value, ok, err = j.c.number("select value from mark where name = ?", name)
		return err
	})
	return value, ok, err
}

// SetMark writes a named whole number.
func (j *Journal) SetMark(ctx context.Context, name string, value int64) error {
	return j.do(ctx, "writing mark "+name, func() error {
		_, err := j.c.exec("insert or replace into mark (name, value) values (?, ?)", name, value)
		return err
	})
}

// A RetainedTopic is a topic that holds a retained payload of ours at the broker.
type RetainedTopic struct {
	Topic   string
	Payload []byte
}

// SetRetained writes down what is retained on a topic; an empty payload forgets the topic.
func (j *Journal) SetRetained(ctx context.Context, topic string, payload []byte) error {
	return j.do(ctx, "writing down a retained topic", func() (err error) {
		if len(payload) > 0 {
			_, err = j.c.exec("insert or replace into retained (topic, since, payload) values (?, ?, ?)", topic, stamp(j.o.Now()), payload)
		} else {
			_, err = j.c.exec("delete from retained where topic = ?", topic)
		}
		return err
	})
}

// Retained lists the topics that have a retained message, so that a start can clear those that no longer stand.
func (j *Journal) Retained(ctx context.Context) (topics []RetainedTopic, err error) {
	err = j.with(ctx, "reading the retained topics", func() error {
		return j.c.query("select topic, payload from retained order by topic", func(row []driver.Value) error {
			b, _ := row[1].([]byte)
			topics = append(topics, RetainedTopic{row[0].(string), slices.Clone(b)})
			return nil
		})
	})
	return topics, err
}

// A SeasonRow is one thing a closed season taught.
type SeasonRow struct {
	Season  int    // the year in which the plants come up
	Name    string // what it is: a drying rate, a forcing sum ...
	Version int    // of the formula
	Data    []byte // JSON
}

// SetSeason writes one row a closed season taught, over an older one of the same season and name.
func (j *Journal) SetSeason(ctx context.Context, r SeasonRow) error {
	return j.do(ctx, "keeping what a season taught", func() error {
		_, err := j.c.exec("insert or replace into season (season, name, version, data) values (?, ?, ?, ?)", r.Season, r.Name, r.Version, string(r.Data))
		return err
	})
}

// Seasons lists what closed seasons taught, by season and name.
func (j *Journal) Seasons(ctx context.Context) (rs []SeasonRow, err error) {
	err = j.with(ctx, "reading what seasons taught", func() error {
		return j.c.query("select season, name, version, data from season order by season, name", func(row []driver.Value) error {
			rs = append(rs, SeasonRow{int(row[0].(int64)), row[1].(string), int(row[2].(int64)), []byte(row[3].(string))})
			return nil
		})
	})
	return rs, err
}

// ForgetSeasons removes the rows of a season, or all when it is 0, so that they are learnt again.
func (j *Journal) ForgetSeasons(ctx context.Context, season int) error {
	return j.do(ctx, "forgetting what seasons taught", func() error {
		_, err := j.c.exec("delete from season where ? = 0 or season = ?", season, season)
		return err
	})
}

// maxSessions is how many sessions of one label are kept: each phone and laptop signs in twice a year.
const maxSessions = 200

// SetSession keeps a page session by the digest of its secret, until it expires. Beyond 200 of a label the one that would expire first goes.
func (j *Journal) SetSession(ctx context.Context, hash string, expires time.Time, label string) error {
	return j.do(ctx, "keeping a session", func() error {
		if _, err := j.c.exec("delete from session where expires < ?", stamp(j.o.Now())); err != nil {
			return err
		}
		if _, err := j.c.exec("insert or replace into session (hash, expires, label) values (?, ?, ?)", hash, stamp(expires), label); err != nil {
			return err
		}
		_, err := j.c.exec("delete from session where label = ? and hash not in (select hash from session where label = ? order by expires desc, hash limit ?)", label, label, maxSessions)
		return err
	})
}

// Session reports until when a session is good; ok is false when it is not known or over.
func (j *Journal) Session(ctx context.Context, hash string) (expires time.Time, ok bool, err error) {
	err = j.with(ctx, "looking for a session", func() error {
		ms, found, err := j.c.number("select expires from session where hash = ?", hash)
		expires, ok = unstamp(ms), found && ms > stamp(j.o.Now())
		return err
	})
	return expires, ok, err
}

// DropSession ends a session, or all when hash is "".
func (j *Journal) DropSession(ctx context.Context, hash string) error {
	return j.do(ctx, "ending a session", func() error {
		_, err := j.c.exec("delete from session where ? = '' or hash = ?", hash, hash)
		return err
	})
}

// SetAside keeps a line that a receiver will never take, with its answer, so that the rest can go on and somebody can look.
func (j *Journal) SetAside(ctx context.Context, name, line, answer string) error {
	return j.do(ctx, "setting a line aside", func() error {
		_, err := j.c.exec("insert into aside (name, at, line, answer) values (?, ?, ?, ?)", name, stamp(j.o.Now()), line, answer)
		return err
	})
}

// Aside counts the lines set aside under a name and gives the newest with its answer.
func (j *Journal) Aside(ctx context.Context, name string) (n int, line, answer string, err error) {
	err = j.with(ctx, "reading the lines set aside", func() error {
		count, _, err := j.c.number("select count(*) from aside where name = ?", name)
		if err != nil {
			return err
		}
		n = int(count)
		return j.c.query("select line, answer from aside where name = ? order by seq desc limit 1", func(row []driver.Value) error {
			line, answer = row[0].(string), row[1].(string)
			return nil
		}, name)
	})
	return n, line, answer, err
}
