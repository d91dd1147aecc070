package journal

import (
	"context"
	"database/sql/driver"
	"fmt"
	"os"
	"time"
)

// Health is what the page and `check` tell about the journal.
type Health struct {
	Path        string
	Size, Log   int64    // bytes of the file and of its write-ahead log
	Free, Whole int64    // bytes of the file system it lies on
	Unread      []string // parts of the past that could not be read since the start
	ReadOnly    bool
	Report      Report // of the start
	Newest      time.Time
	Held        int  // rounds that wait for a clock
	BackupsHere bool // the backups lie on the journal's own file system
	LastBackup  time.Time
}

// Short reports whether less than a tenth of the card is free.
func (h Health) Short() bool { return h.Whole > 0 && h.Free*10 < h.Whole }

// Health looks at the journal without reading it through.
func (j *Journal) Health(ctx context.Context) (h Health, err error) {
	err = j.with(ctx, "looking at the journal", func() error {
		h = Health{Path: j.path, ReadOnly: j.o.ReadOnly, Report: j.report, Newest: unstamp(j.newest)}
		n, _, err := j.c.number("select count(*) from held")
		h.Held = int(n)
		return err
	})
	if fi, e := os.Stat(j.path); e == nil {
		h.Size = fi.Size()
	}
	if fi, e := os.Stat(j.path + "-wal"); e == nil {
		h.Log = fi.Size()
	}
	h.Free, h.Whole, _ = freeSpace(j.path)
	h.Unread = j.spoiltList()
	h.BackupsHere = sameFileSystem(j.path, j.o.Backups)
	if names, e := backupNames(j.o.Backups, j.path); e == nil && len(names) > 0 {
		if fi, e := os.Stat(names[len(names)-1]); e == nil {
			h.LastBackup = fi.ModTime().UTC()
		}
	}
	return h, err
}

// A CheckReport is what a journal looks like when it is read through.
type CheckReport struct {
	Engine   []string // complaints of the engine's own check
	Bad      []string // parts that cannot be read, each named
	Days     int      // sealed
	Blocks   int
	Rounds   int // in the tail
	Readings int64
	First    time.Time
	Last     time.Time
}

// Sound reports whether everything could be read.
func (r CheckReport) Sound() bool { return len(r.Engine) == 0 && len(r.Bad) == 0 }

// Check reads every block and row and its checksum, a month at a time.
func (j *Journal) Check(ctx context.Context) (r CheckReport, err error) {
	err = j.with(ctx, "checking the journal", func() (err error) {
		r.Engine, err = quickCheck(j.c)
		return err
	})
	if err != nil {
		return r, err
	}
	after := int64(-1)
	for more := true; more; {
		err = j.with(ctx, "checking the journal", func() (err error) {
			after, more, err = j.checkBlocks(after, &r)
			return err
		})
		if err != nil {
			return r, err
		}
	}
	err = j.with(ctx, "checking the journal", func() error { return j.checkTail(&r) })
	return r, err
}

func (j *Journal) checkBlocks(after int64, r *CheckReport) (last int64, more bool, err error) {
	last = after
	err = j.c.query("select k, b from block where k > ? order by k limit 500", func(row []driver.Value) error {
		last, more = row[0].(int64), true
		r.Blocks++
		day, num := dayOfKey(last), last&(1<<20-1)
		var err error
		var got int64
		if num == 0 {
			r.Days++
			got, _, err = bareOf(row[1].([]byte))
		} else {
			var c *column
			if got, c, err = columnOf(row[1].([]byte)); err == nil {
				r.Readings += int64(len(c.at))
				r.see(c.at[0], c.at[len(c.at)-1])
				if s := j.dict.byNum[num]; s == nil || s.probe != c.probe || s.step != c.step {
					err = fmt.Errorf("the series table does not know it")
				}
			}
		}
		if err == nil && got != day {
			err = fmt.Errorf("it is the block of %s", dateOfDay(got))
		}
		if err != nil {
			r.Bad = append(r.Bad, fmt.Sprintf("%s on %s: %v", nameOf(num, row[1].([]byte)), dateOfDay(day), err))
		}
		return nil
	}, after)
	return last, more, err
}

func (j *Journal) checkTail(r *CheckReport) error {
	return j.c.query("select t, b from tail order by t", func(row []driver.Value) error {
		t := row[0].(int64)
		r.Rounds++
		p, err := unpack(t, row[1].([]byte))
		if err != nil {
			r.Bad = append(r.Bad, fmt.Sprintf("the round of %s: %v", unstamp(t).Format(time.RFC3339), err))
			return nil
		}
		r.Readings += int64(len(p.reads))
		r.see(t, t)
		return nil
	})
}

func (r *CheckReport) see(first, last int64) {
	if t := unstamp(first); r.First.IsZero() || t.Before(r.First) {
		r.First = t
	}
	if t := unstamp(last); t.After(r.Last) {
		r.Last = t
	}
}

// quickCheck gives the engine's complaints about the file, none when it is sound.
func quickCheck(c *conn) ([]string, error) {
	var said []string
	err := c.query("pragma quick_check(20)", func(row []driver.Value) error {
		if s, _ := row[0].(string); s != "ok" {
			said = append(said, s)
		}
		return nil
	})
	return said, err
}
