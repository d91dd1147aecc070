package journal

import (
	"context"
	"database/sql/driver"
	"fmt"
	"slices"
	"time"

	"lathwatch/sensors"
)

// LateResult says what became of a batch of late readings.
type LateResult struct {
	Fresh    int       // readings that were not known
	Known    int       // readings of a probe and instant that had one already; the old one stays
	Earliest time.Time // the first instant touched; zero when nothing was new. What was folded from there on is to be folded again
	Latest   time.Time
}

// AddLate puts a batch of readings where their own times are, once: days that are sealed are sealed again. It works a day at a
// time; a batch that was cut off half-way is simply added again. Readings get the time they carry, in whole milliseconds.
func (j *Journal) AddLate(ctx context.Context, arrived time.Time, l sensors.Late) (res LateResult, err error) {
	rs := slices.Clone(l.Readings)
	slices.SortStableFunc(rs, func(a, b sensors.LateReading) int { return a.At.Compare(b.At) })
	id := l.ID
	if id == "" {
		id = digest(fmt.Sprint(rs))
	}
	for len(rs) > 0 {
		day, n := dayOf(stamp(rs[0].At)), 1
		for n < len(rs) && dayOf(stamp(rs[n].At)) == day {
			n++
		}
		if err := j.addLateDay(ctx, id, arrived, day, roundsOf(rs[:n]), &res); err != nil {
			return res, err
		}
		rs = rs[n:]
	}
	return res, nil
}

// roundsOf gathers readings of one instant.
func roundsOf(rs []sensors.LateReading) []sensors.Round {
	var rounds []sensors.Round
	for _, r := range rs {
		if n := len(rounds); n == 0 || stamp(rounds[n-1].At) != stamp(r.At) {
			rounds = append(rounds, sensors.Round{At: r.At})
		}
		last := &rounds[len(rounds)-1]
		last.Readings = append(last.Readings, r.Reading)
	}
	return rounds
}

func (j *Journal) addLateDay(ctx context.Context, id string, arrived time.Time, day int64, rounds []sensors.Round, res *LateResult) error {
	total, fresh := 0, 0
	for i := range rounds {
		total += len(rounds[i].Readings)
	}
	err := j.do(ctx, "placing late readings of "+dateOfDay(day), func() (err error) {
		ps := make([]packed, len(rounds))
		for i := range rounds {
			if ps[i], err = j.pack(&rounds[i]); err != nil {
				return err
			}
		}
		if fresh, err = j.placeDay(day, ps); err != nil || fresh == 0 {
			return err
		}
		j.newest = max(j.newest, ps[len(ps)-1].t)
		if err := j.noteLate(id, arrived, ps[0].t, ps[len(ps)-1].t, fresh); err != nil {
			return err
		}
		return j.sealOver(1)
	})
	if err != nil {
		return err
	}
	res.Fresh, res.Known = res.Fresh+fresh, res.Known+total-fresh
	if fresh > 0 {
		j.sayHad()
		if res.Earliest.IsZero() {
			res.Earliest = unstamp(stamp(rounds[0].At))
		}
		res.Latest = unstamp(stamp(rounds[len(rounds)-1].At))
	}
	return nil
}

// noteLate writes down that a stretch of one day was touched after its time.
func (j *Journal) noteLate(id string, arrived time.Time, first, last int64, n int) error {
	_, err := j.c.exec("insert into late (id, arrived, first, last, n) values (?, ?, ?, ?, ?)", id, stamp(arrived), first, last, n)
	return err
}

// placeDay puts rounds of one UTC day where that day is and gives how many readings were new.
func (j *Journal) placeDay(day int64, ps []packed) (fresh int, err error) {
	sealed, err := j.isSealed(day)
	if err != nil {
		return 0, err
	}
	if sealed {
		return j.mergeSealed(day, ps)
	}
	for i := range ps {
		n, err := j.placeTail(&ps[i])
		if err != nil {
			return 0, err
		}
		fresh += n
	}
	return fresh, nil
}

// A LateSpan is a stretch of one day that late readings touched.
type LateSpan struct {
	Seq         int64
	Arrived     time.Time
	First, Last time.Time
	N           int // readings
}

// LateSince lists the late stretches written after a number, oldest first: a forwarder that is past them goes back to them.
func (j *Journal) LateSince(ctx context.Context, seq int64) (spans []LateSpan, err error) {
	err = j.with(ctx, "reading what came late", func() error {
		return j.c.query("select seq, arrived, first, last, n from late where seq > ? order by seq", func(row []driver.Value) error {
			spans = append(spans, LateSpan{row[0].(int64), unstamp(row[1].(int64)), unstamp(row[2].(int64)), unstamp(row[3].(int64)), int(row[4].(int64))})
			return nil
		}, seq)
	})
	return spans, err
}
