package journal

import (
	"context"
	"database/sql/driver"
	"fmt"
)

// daysOnRecord lists the days that have blocks, oldest first.
func (j *Journal) daysOnRecord() (days []int64, err error) {
	err = j.c.query("select distinct k >> 20 from block order by 1", func(row []driver.Value) error {
		days = append(days, row[0].(int64))
		return nil
	})
	return days, err
}

// SummedElsewhere reports whether the day summaries were made for another zone than the journal's, so that RebuildDays is due.
func (j *Journal) SummedElsewhere(ctx context.Context) (yes bool, err error) {
	err = j.with(ctx, "looking at the day summaries", func() error {
		yes = j.otherZone
		return nil
	})
	return yes, err
}

// RebuildDays works out every day summary anew for the journal's zone, ten days a turn. Until it is done, summaries are worked out
// from the readings each time.
func (j *Journal) RebuildDays(ctx context.Context) error {
	var days []int64
	err := j.do(ctx, "rebuilding day summaries", func() (err error) {
		j.otherZone, j.zone = true, 0
		if _, err = j.c.exec("insert or replace into meta (name, value) values ('zone of days', 'none')"); err != nil {
			return err
		}
		if _, err = j.c.exec("delete from day"); err != nil {
			return err
		}
		days, err = j.daysOnRecord()
		return err
	})
	for len(days) > 0 && err == nil {
		n := min(10, len(days))
		err = j.do(ctx, "rebuilding day summaries", func() error { return j.rebuildSome(days[:n]) })
		days = days[n:]
	}
	if err != nil {
		return err
	}
	return j.do(ctx, "rebuilding day summaries", j.rebuilt)
}

// rebuildDays is RebuildDays for a journal nobody else has yet.
func (j *Journal) rebuildDays(ctx context.Context) error {
	if j.o.ReadOnly {
		return fmt.Errorf("rebuilding day summaries: %w", ErrReadOnly)
	}
	return j.RebuildDays(ctx)
}

func (j *Journal) rebuildSome(days []int64) error {
	for _, day := range days {
		d, err := j.readDay(day)
		if err != nil {
			return err
		}
		j.lend(d)
		if err := j.summarise(day, d.nums); err != nil {
			return err
		}
	}
	return nil
}

func (j *Journal) rebuilt() error {
	_, err := j.c.exec("insert or replace into meta (name, value) values ('zone of days', ?)", j.o.Zone.String())
	j.otherZone = false
	return err
}
