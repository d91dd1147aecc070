package journal

import (
	"cmp"
	"context"
	"database/sql/driver"
	"fmt"
	"slices"
	"time"

	"lathwatch/sensors"
)

// sliceDays is how much past is read in one turn: a month, so that a round never waits long.
const sliceDays = 31

// Entries is the past from an instant on, until another (not included; zero: all there is now), in the order of sensors.Compare:
// rounds, notes and gardens. A late reading is in the round of its own instant; its batch is not told again. Nothing is held
// between entries: the journal may be written while they are read. A part that cannot be read is left out and named in Health.
func (j *Journal) Entries(ctx context.Context, from, until time.Time) sensors.Entries {
	return func(yield func(sensors.Entry, error) bool) {
		first, end, err := j.span(ctx, from, until)
		if err != nil {
			yield(sensors.Entry{}, err)
			return
		}
		for first < end {
			next := min((dayOf(first)+sliceDays)*dayMS, end)
			m, err := j.slice(ctx, first, next)
			if err != nil {
				yield(sensors.Entry{}, err)
				return
			}
			if m.empty() { // years without a word are stepped over
				if next, err = j.following(ctx, next); err != nil {
					yield(sensors.Entry{}, err)
					return
				}
			} else if !j.tell(m, first, next, yield) {
				return
			}
			first = next
		}
	}
}

// span cuts the wanted stretch down to where there is anything.
func (j *Journal) span(ctx context.Context, from, until time.Time) (first, end int64, err error) {
	err = j.with(ctx, "reading entries", func() error {
		oldest, newest, err := j.ends()
		if err != nil {
			return err
		}
		first, end = oldest, newest+1
		if !from.IsZero() {
			first = max(first, stamp(from))
		}
		if !until.IsZero() {
			end = min(end, stamp(until))
		}
		return nil
	})
	return first, end, err
}

// ends gives the instants of the oldest and the newest entry; newest is before oldest when there is none.
func (j *Journal) ends() (oldest, newest int64, err error) {
	oldest, newest = 1<<62, -1<<62
	see := func(t int64, ok bool) {
		if ok {
			oldest, newest = min(oldest, t), max(newest, t)
		}
	}
	for _, q := range []string{"select min(t) from tail", "select max(t) from tail", "select min(at) from note",
		"select max(at) from note", "select min(at) from garden", "select max(at) from garden"} {
		t, ok, err := j.c.number(q)
		if err != nil {
			return 0, 0, err
		}
		see(t, ok)
	}
	for _, q := range []string{"select min(k) from block", "select max(k) from block"} {
		k, ok, err := j.c.number(q)
		if err != nil {
			return 0, 0, err
		}
		see(dayOfKey(k)*dayMS, ok)
		see(dayOfKey(k+1<<20)*dayMS-1, ok)
	}
	return oldest, newest, nil
}

// following gives the first instant from t on that has an entry, or t when there is none.
func (j *Journal) following(ctx context.Context, t int64) (next int64, err error) {
	next = 1 << 62
	err = j.with(ctx, "reading entries", func() error {
		for _, q := range []string{"select min(t) from tail where t >= ?", "select min(at) from note where at >= ?",
			"select min(at) from garden where at >= ?"} {
			at, ok, err := j.c.number(q, t)
			if err != nil {
				return err
			}
			if ok {
				next = min(next, at)
			}
		}
		k, ok, err := j.c.number("select min(k) from block where k >= ?", key(dayOf(t), 0))
		if ok {
			next = min(next, max(t, dayOfKey(k)*dayMS))
		}
		return err
	})
	if next == 1<<62 {
		next = t
	}
	return next, err
}

// A month is a slice of the past as it lies on the card.
type month struct {
	blocks []rawBlock
	tail   []*dayData      // days, or parts of them, that are not sealed
	others []sensors.Entry // notes and gardens, in order
}

type rawBlock struct {
	k int64
	b []byte
}

func (m *month) empty() bool { return len(m.blocks) == 0 && len(m.tail) == 0 && len(m.others) == 0 }

func (j *Journal) slice(ctx context.Context, from, until int64) (*month, error) {
	m := &month{}
	err := j.with(ctx, "reading entries", func() error {
		err := j.c.query("select k, b from block where k >= ? and k < ? order by k", func(row []driver.Value) error {
			m.blocks = append(m.blocks, rawBlock{row[0].(int64), row[1].([]byte)})
			return nil
		}, key(dayOf(from), 0), key(dayOf(until-1)+1, 0))
		if err != nil {
			return err
		}
		if m.tail, err = j.tailDays(from, until); err != nil {
			return err
		}
		if m.others, err = j.notesAndGardens(from, until); err != nil {
			return err
		}
		return nil
	})
	return m, err
}

// tell hands out a slice, decoding a day at a time.
func (j *Journal) tell(m *month, from, until int64, yield func(sensors.Entry, error) bool) bool {
	others := m.others
	before := func(t time.Time) bool { // notes and gardens up to an instant come before its round
		for len(others) > 0 && !others[0].At.After(t) {
			if !yield(others[0], nil) {
				return false
			}
			others = others[1:]
		}
		return true
	}
	each := func(r sensors.Round) bool {
		if t := stamp(r.At); t < from || t >= until {
			return true
		}
		return before(r.At) && yield(sensors.Entry{At: r.At, Round: &r}, nil)
	}
	for day := dayOf(from); day <= dayOf(until-1); day++ {
		d := m.day(j, day)
		if d == nil {
			continue
		}
		if !d.rounds(each) {
			return false
		}
	}
	return before(unstamp(until - 1))
}

// day decodes a day of the slice, nil when there is nothing of it. It is called in the order of days, without the turn.
func (m *month) day(j *Journal, day int64) *dayData {
	var d *dayData
	for len(m.blocks) > 0 && dayOfKey(m.blocks[0].k) <= day {
		if d == nil {
			d = &dayData{day: day}
		}
		j.takeBlock(d, m.blocks[0].k, m.blocks[0].b)
		m.blocks = m.blocks[1:]
	}
	for len(m.tail) > 0 && m.tail[0].day <= day {
		if d == nil {
			d = m.tail[0]
		} else {
			d.merge(m.tail[0])
		}
		m.tail = m.tail[1:]
	}
	if d != nil {
		d.sort()
	}
	return d
}

func (j *Journal) notesAndGardens(from, until int64) ([]sensors.Entry, error) {
	var es []sensors.Entry
	err := j.c.query("select at, id, text from garden where at >= ? and at < ? order by at, id", func(row []driver.Value) error {
		es = append(es, sensors.Entry{At: unstamp(row[0].(int64)), Garden: &sensors.GardenText{ID: row[1].(string), Text: row[2].(string)}})
		return nil
	}, from, until)
	if err != nil {
		return nil, err
	}
	err = j.c.query("select id, at, made, about, subject, what, detail from note where at >= ? and at < ? order by at, id",
		func(row []driver.Value) error {
			n := noteOf(row)
			es = append(es, sensors.Entry{At: n.At, Note: &n})
			return nil
		}, from, until)
	slices.SortStableFunc(es, sensors.Compare)
	return es, err
}

func noteOf(row []driver.Value) sensors.Note {
	return sensors.Note{ID: row[0].(string), At: unstamp(row[1].(int64)), Made: unstamp(row[2].(int64)),
		About: time.Duration(row[3].(int64)) * time.Millisecond, Subject: row[4].(string), What: sensors.What(row[5].(string)),
		Detail: row[6].(string)}
}

// findNewest looks for the newest instant of a round in the file.
func (j *Journal) findNewest() (int64, error) {
	newest, _, err := j.c.number("select max(t) from tail")
	if err != nil || j.sealed < 0 {
		return newest, err
	}
	d, err := j.readDay(j.sealed)
	if err != nil {
		return 0, err
	}
	d.rounds(func(r sensors.Round) bool {
		newest = max(newest, stamp(r.At))
		return true
	})
	return newest, nil
}

// Notes are the keeper's notes from an instant on, oldest first.
func (j *Journal) Notes(ctx context.Context, from time.Time) (ns []sensors.Note, err error) {
	err = j.with(ctx, "reading notes", func() error {
		return j.c.query("select id, at, made, about, subject, what, detail from note where at >= ? order by at, id",
			func(row []driver.Value) error {
				ns = append(ns, noteOf(row))
				return nil
			}, stamp(from))
	})
	return ns, err
}

// spoilt takes note of a part of the past that cannot be read.
func (j *Journal) spoilt(what string, err error) {
	s := fmt.Sprintf("%s: %v", what, err)
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.bad[s] {
		return
	}
	if j.bad == nil {
		j.bad = map[string]bool{}
	}
	j.bad[s] = true
	j.o.Log.Error("journal: cannot be read and is left out", "what", what, "err", err)
}

func (j *Journal) spoiltList() []string {
	j.mu.Lock()
	defer j.mu.Unlock()
	list := make([]string, 0, len(j.bad))
	for s := range j.bad {
		list = append(list, s)
	}
	slices.SortFunc(list, cmp.Compare)
	return list
}
