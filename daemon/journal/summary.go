package journal

import (
	"cmp"
	"context"
	"database/sql/driver"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// A Day is what one probe said in one civil day, in the whole-number unit of its step. Only valid readings count.
type Day struct {
	Date     garden.Date
	Zone     string // whose civil day it is
	Unit     units.Unit
	N        int64
	Min, Max int64
	Sum      int64         // of all readings; the mean is Sum/N
	Covered  time.Duration // of the day: the time before each reading, back to the one before it, where that is not a gap
}

// Mean is the mean of the day's readings, rounded to the whole unit.
func (d Day) Mean() int64 {
	if d.N == 0 {
		return 0
	}
	return roundDiv(d.Sum, d.N)
}

func roundDiv(a, b int64) int64 {
	if a < 0 {
		return -((-a + b/2) / b)
	}
	return (a + b/2) / b
}

// gapTimes is how many of a probe's usual spacings may pass before the time between is a gap and not covered.
const gapTimes = 3

// sumOf works out a column's summary for [start, end) ms, in raw counts. prev is the instant of the reading before start, or
// less than 0.
func sumOf(c *column, start, end, prev int64) (n, low, high, sum, covered int64) {
	from, _ := slices.BinarySearch(c.at, start)
	to, _ := slices.BinarySearch(c.at, end)
	if from > 0 {
		prev = c.at[from-1]
	}
	limit := gapTimes * usual(c.at[from:to], prev)
	for i := from; i < to; i++ {
		if c.suspect != nil && c.suspect[i] {
			continue
		}
		v, t := c.raw[i], c.at[i]
		if n == 0 {
			low, high = v, v
		}
		low, high = min(low, v), max(high, v)
		n, sum = n+1, sum+v
		if prev >= 0 && t-prev <= limit {
			covered += t - max(prev, start)
		}
		prev = t
	}
	if n > 0 && (end-prev)*gapTimes <= limit { // the day's last reading vouches for the rest of its spacing
		covered += end - prev
	}
	return n, low, high, sum, covered / 1000
}

// usual is the middle one of the spacings.
func usual(at []int64, prev int64) int64 {
	gaps := make([]int64, 0, len(at))
	for _, t := range at {
		if prev >= 0 {
			gaps = append(gaps, t-prev)
		}
		prev = t
	}
	if len(gaps) == 0 {
		return 0
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}

// dayKey places a summary: all days of a series lie together, so that ten winters are one short read.
func dayKey(series int64, d garden.Date) int64 { return series<<20 | int64(d) }

// summarise writes the summaries of the civil days that share time with a sealed UTC day, for the series given. One that goes on
// into a day that is not sealed yet is written again with that.
func (j *Journal) summarise(day int64, nums []int64) error {
	cal := garden.Calendar{Zone: j.o.Zone}
	last := cal.DateOf(time.UnixMilli((day+1)*dayMS - 1))
	for d := cal.DateOf(time.UnixMilli(day * dayMS)); d <= last; d++ {
		for _, num := range nums {
			if err := j.summariseOne(cal, d, num); err != nil {
				return err
			}
		}
	}
	return nil
}

func (j *Journal) summariseOne(cal garden.Calendar, d garden.Date, num int64) error {
	start, end := stamp(cal.Start(d)), stamp(cal.Start(d+1))
	c, err := j.columnAround(num, start, end, j.blockColumn)
	if err != nil {
		return err
	}
	if c == nil {
		c = &column{}
	}
	n, low, high, sum, covered := sumOf(c, start, end, -1)
	if n == 0 {
		_, err = j.c.exec("delete from day where k = ?", dayKey(num, d))
		return err
	}
	zone, err := j.zoneNumber()
	if err != nil {
		return err
	}
	_, err = j.c.exec("insert or replace into day (k, zone, n, min, max, sum, covered) values (?, ?, ?, ?, ?, ?, ?)",
		dayKey(num, d), zone, n, low, high, sum, covered)
	return err
}

// columnAround reads one series for [start, end) ms and a little before, nil when there is nothing.
func (j *Journal) columnAround(num, start, end int64, read func(num, day int64) (*column, error)) (*column, error) {
	var cs []*column
	for day := dayOf(start - 3600_000); day <= dayOf(end-1); day++ {
		c, err := read(num, day)
		if err != nil {
			return nil, err
		}
		if c != nil {
			cs = append(cs, c)
		}
	}
	return joinColumns(cs), nil
}

// columnOn reads one series' UTC day, sealed or not, nil when there is nothing.
func (j *Journal) columnOn(num, day int64) (*column, error) {
	if j.tailDay >= 0 && day >= j.tailDay {
		if c, err := j.tailColumn(num, day); err != nil || c != nil {
			return c, err
		}
	}
	return j.blockColumn(num, day)
}

// blockColumn reads one series' sealed day, nil when there is nothing. It must not be changed: days just sealed are lent.
func (j *Journal) blockColumn(num, day int64) (c *column, err error) {
	for _, d := range j.recent {
		if d != nil && d.day == day {
			return d.column(num), nil
		}
	}
	err = j.c.query("select b from block where k = ?", func(row []driver.Value) error {
		d := &dayData{day: day}
		j.takeBlock(d, key(day, num), row[0].([]byte))
		c = d.column(num)
		return errStop
	}, key(day, num))
	return c, err
}

// joinColumns lays columns of one series end to end.
func joinColumns(cs []*column) *column {
	if len(cs) == 0 {
		return nil
	}
	if len(cs) == 1 {
		return cs[0]
	}
	all := &column{probe: cs[0].probe, step: cs[0].step}
	for _, c := range cs {
		if all.suspect != nil || c.suspect != nil {
			s := append(orValid(all), orValid(c)...)
			all.suspect = s
		}
		all.at, all.raw = append(all.at, c.at...), append(all.raw, c.raw...)
	}
	return all
}

func orValid(c *column) []bool {
	if c.suspect != nil {
		return c.suspect
	}
	return make([]bool, len(c.at))
}

// zoneNumber gives the site's zone a number in the file.
func (j *Journal) zoneNumber() (int64, error) {
	if j.zone > 0 {
		return j.zone, nil
	}
	name := j.o.Zone.String()
	if _, err := j.c.exec("insert or ignore into zone (name) values (?)", name); err != nil {
		return 0, err
	}
	if _, err := j.c.exec("insert or ignore into meta (name, value) values ('zone of days', ?)", name); err != nil {
		return 0, err
	}
	n, _, err := j.c.number("select id from zone where name = ?", name)
	j.zone = n
	return n, err
}

// DaySummary gives a probe's civil days in the site's zone, first to last, without those that hold no valid reading. Days that
// are not sealed yet, or were summed for another zone, are worked out from the readings.
func (j *Journal) DaySummary(ctx context.Context, probe sensors.ProbeID, first, last garden.Date) (days []Day, err error) {
	err = j.with(ctx, "reading day summaries of "+string(probe), func() error {
		for _, s := range j.dict.ofProbe(probe) {
			if days, err = j.seriesDays(days, s, first, last); err != nil {
				return err
			}
		}
		return nil
	})
	slices.SortStableFunc(days, func(a, b Day) int { return cmp.Compare(a.Date, b.Date) })
	return joinDays(days), err
}

func (j *Journal) seriesDays(days []Day, s *series, first, last garden.Date) ([]Day, error) {
	cal := garden.Calendar{Zone: j.o.Zone}
	whole := last // up to here the table says it all
	if j.tailDay >= 0 {
		whole = min(whole, cal.DateOf(unstamp(j.tailDay*dayMS))-1)
	}
	if j.otherZone {
		whole = first - 1
	}
	name := j.o.Zone.String()
	err := j.c.query("select k, n, min, max, sum, covered from day where k >= ? and k <= ? order by k", func(row []driver.Value) error {
		days = append(days, s.day(garden.Date(row[0].(int64)&(1<<20-1)), name, row[1].(int64), row[2].(int64), row[3].(int64),
			row[4].(int64), row[5].(int64)))
		return nil
	}, dayKey(s.num, first), dayKey(s.num, whole))
	if err != nil {
		return nil, err
	}
	end := min(last, cal.DateOf(unstamp(j.newest)))
	for d := max(first, whole+1, cal.DateOf(unstamp(s.since))-1); d <= end; d++ {
		start, end := stamp(cal.Start(d)), stamp(cal.Start(d+1))
		c, err := j.columnAround(s.num, start, end, j.columnOn)
		if err != nil {
			return nil, err
		}
		if c == nil {
			continue
		}
		if n, low, high, sum, covered := sumOf(c, start, end, -1); n > 0 {
			days = append(days, s.day(d, name, n, low, high, sum, covered))
		}
	}
	return days, nil
}

func (s *series) day(d garden.Date, zone string, n, low, high, sum, covered int64) Day {
	return Day{Date: d, Zone: zone, Unit: s.step.Unit, N: n, Min: s.step.Of(low), Max: s.step.Of(high), Sum: s.step.Of(sum),
		Covered: time.Duration(covered) * time.Second}
}

// joinDays makes one of the days of a probe that changed its step at noon.
func joinDays(days []Day) []Day {
	out := days[:0]
	for _, d := range days {
		if n := len(out); n > 0 && out[n-1].Date == d.Date && out[n-1].Unit == d.Unit {
			o := &out[n-1]
			o.N, o.Sum, o.Covered = o.N+d.N, o.Sum+d.Sum, o.Covered+d.Covered
			o.Min, o.Max = min(o.Min, d.Min), max(o.Max, d.Max)
			continue
		}
		out = append(out, d)
	}
	return out
}

// A Stretch is up to a day of one probe's readings in one step, columns of equal length.
type Stretch struct {
	Step    units.Step
	At      []int64 // UTC milliseconds, rising
	Raw     []int64 // counts of Step
	Suspect []bool  // nil when all are valid
}

// ProbeReadings gives a probe's readings of [from, until), a day at a time, oldest first.
func (j *Journal) ProbeReadings(ctx context.Context, probe sensors.ProbeID, from, until time.Time) iter.Seq2[Stretch, error] {
	return func(yield func(Stretch, error) bool) {
		first, end, err := j.span(ctx, from, until)
		if err != nil {
			yield(Stretch{}, err)
			return
		}
		for first < end {
			next := min((dayOf(first)+sliceDays)*dayMS, end)
			cs, err := j.probeSlice(ctx, probe, first, next)
			if err != nil {
				yield(Stretch{}, err)
				return
			}
			for _, c := range cs {
				if s := c.within(first, next); len(s.At) > 0 && !yield(s, nil) {
					return
				}
			}
			first = next
		}
	}
}

func (j *Journal) probeSlice(ctx context.Context, probe sensors.ProbeID, from, until int64) (cs []*column, err error) {
	err = j.with(ctx, "reading "+string(probe), func() error {
		ss := j.dict.ofProbe(probe)
		for _, s := range ss {
			if cs, err = j.sealedColumns(cs, s.num, dayOf(from), dayOf(until-1)); err != nil {
				return err
			}
		}
		if j.tailDay >= 0 {
			for day := max(dayOf(from), j.tailDay); day <= dayOf(until-1); day++ {
				for _, s := range ss {
					c, err := j.tailColumn(s.num, day)
					if err != nil {
						return err
					}
					if c != nil {
						cs = append(cs, c)
					}
				}
			}
		}
		return nil
	})
	slices.SortStableFunc(cs, func(a, b *column) int { return cmp.Compare(a.start(), b.start()) })
	return cs, err
}

func (c *column) start() int64 {
	if len(c.at) == 0 {
		return 0
	}
	return c.at[0]
}

// blocksOf asks for a month of a series at once; days lie apart in the file, and a question costs as much as its answer.
var blocksOf = "select k, b from block where k in (?" + strings.Repeat(", ?", sliceDays) + ") order by k"

func (j *Journal) sealedColumns(cs []*column, num, first, last int64) ([]*column, error) {
	if last > j.sealed {
		last = j.sealed
	}
	keys := make([]any, sliceDays+1)
	for i := range keys {
		keys[i] = int64(-1)
		if day := first + int64(i); day <= last {
			keys[i] = key(day, num)
		}
	}
	err := j.c.query(blocksOf, func(row []driver.Value) error {
		k := row[0].(int64)
		_, c, err := columnOf(row[1].([]byte))
		if err != nil {
			j.spoilt(fmt.Sprintf("%s on %s", nameOf(num, row[1].([]byte)), dateOfDay(dayOfKey(k))), err)
			return nil
		}
		cs = append(cs, c)
		return nil
	}, keys...)
	return cs, err
}

func (c *column) within(from, until int64) Stretch {
	a, _ := slices.BinarySearch(c.at, from)
	b, _ := slices.BinarySearch(c.at, until)
	s := Stretch{Step: c.step, At: c.at[a:b], Raw: c.raw[a:b]}
	if c.suspect != nil {
		s.Suspect = c.suspect[a:b]
	}
	return s
}
