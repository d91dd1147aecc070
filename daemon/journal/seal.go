package journal

import (
	"database/sql/driver"
	"fmt"
)

// isSealed: a sealed day has a block of its faults, be it an empty one.
func (j *Journal) isSealed(day int64) (bool, error) {
	_, ok, err := j.c.number("select 1 from block where k = ?", key(day, 0))
	return ok, err
}

// sealOver seals at most n days that are over, oldest first: days of the tail before the newest round's.
func (j *Journal) sealOver(n int) error {
	for range n {
		if j.tailDay < 0 || j.tailDay >= dayOf(j.newest) {
			return nil
		}
		if err := j.seal(j.tailDay); err != nil {
			return err
		}
		first, ok, err := j.c.number("select min(t) from tail")
		if err != nil {
			return err
		}
		j.tailDay = -1
		if ok {
			j.tailDay = dayOf(first)
		}
	}
	return nil
}

// seal turns a day's tail rows into blocks, in the transaction that removes them.
func (j *Journal) seal(day int64) error {
	ds, err := j.tailDays(day*dayMS, (day+1)*dayMS)
	if err != nil {
		return err
	}
	d := &dayData{day: day}
	if len(ds) > 0 {
		d = ds[0]
	}
	if err := j.writeDay(d); err != nil {
		return err
	}
	if _, err := j.c.exec("delete from tail where t >= ? and t < ?", day*dayMS, (day+1)*dayMS); err != nil {
		return err
	}
	j.sealed = max(j.sealed, day)
	return j.summarise(day, d.nums)
}

func (j *Journal) writeDay(d *dayData) error {
	d.sort()
	if err := j.writeBlock(key(d.day, 0), j.enc.bare(d.day, &d.bare)); err != nil {
		return err
	}
	for i, c := range d.cols {
		if len(c.at) > maxReadings {
			return fmt.Errorf("%s has %d readings on %s, more than %d", c.probe, len(c.at), dateOfDay(d.day), maxReadings)
		}
		if err := j.writeBlock(key(d.day, d.nums[i]), j.enc.column(d.day, c)); err != nil {
			return err
		}
	}
	j.lend(d)
	return nil
}

// lend keeps a day at hand for the summaries, in place of an older copy of it or of the older of two.
func (j *Journal) lend(d *dayData) {
	if j.recent[0] == nil || j.recent[0].day != d.day {
		j.recent[1] = j.recent[0]
	}
	j.recent[0] = d
}

func (j *Journal) writeBlock(k int64, b []byte) error {
	_, err := j.c.exec("insert or replace into block (k, b) values (?, ?)", k, b)
	return err
}

// readDay decodes a sealed day.
func (j *Journal) readDay(day int64) (*dayData, error) {
	d := &dayData{day: day}
	err := j.c.query("select k, b from block where k >= ? and k < ? order by k", func(row []driver.Value) error {
		j.takeBlock(d, row[0].(int64), row[1].([]byte))
		return nil
	}, key(day, 0), key(day+1, 0))
	return d, err
}

// mergeSealed adds rounds to a sealed day and seals it again. It gives how many readings were new.
func (j *Journal) mergeSealed(day int64, ps []packed) (fresh int, err error) {
	d, err := j.readDay(day)
	if err != nil {
		return 0, err
	}
	for i := range ps {
		fresh += d.add(&j.dict, &ps[i])
	}
	if err := j.writeDay(d); err != nil {
		return 0, err
	}
	return fresh, j.summarise(day, d.nums)
}
