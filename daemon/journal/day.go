package journal

import (
	"cmp"
	"database/sql/driver"
	"fmt"
	"slices"
	"time"
	"unicode/utf8"

	"lathwatch/sensors"
)

// A dayData is one UTC day decoded: columns by probe then series, and what is beside them.
type dayData struct {
	day   int64
	cols  []*column
	nums  []int64 // the series number of each column
	index map[int64]int
	bare  bare
}

// column finds a series' column, nil when the day has none.
func (d *dayData) column(num int64) *column {
	if i, ok := d.index[num]; ok {
		return d.cols[i]
	}
	return nil
}

func (d *dayData) put(num int64, c *column) {
	if d.index == nil {
		d.index = map[int64]int{}
	}
	d.index[num] = len(d.cols)
	d.cols, d.nums = append(d.cols, c), append(d.nums, num)
}

// holds reports whether another series of the same probe has a reading at t.
func (d *dayData) holds(s *series, t int64) bool {
	for _, m := range s.mates {
		if c := d.column(m.num); c != nil {
			if _, found := slices.BinarySearch(c.at, t); found {
				return true
			}
		}
	}
	return false
}

// add takes a round's parts and gives how many readings were new.
func (d *dayData) add(dict *dictionary, p *packed) int {
	fresh := 0
	for _, r := range p.reads {
		s := dict.byNum[r.series]
		if s == nil || d.holds(s, p.t) {
			continue
		}
		c := d.column(s.num)
		if c == nil {
			c = &column{probe: s.probe, step: s.step}
			d.put(s.num, c)
		}
		if c.add(p.t, r.raw, r.suspect) {
			fresh++
		}
	}
	for _, f := range p.faults {
		d.bare.add(f, p.t)
	}
	if len(p.reads) == 0 && len(p.faults) == 0 {
		d.bare.empty = insertTime(d.bare.empty, p.t)
	}
	return fresh
}

func (b *bare) add(f sensors.Fault, t int64) {
	for i := range b.runs {
		if b.runs[i].fault == f {
			b.runs[i].at = insertTime(b.runs[i].at, t)
			return
		}
	}
	b.runs = append(b.runs, faultRun{f, []int64{t}})
}

func insertTime(at []int64, t int64) []int64 {
	if n := len(at); n == 0 || t > at[n-1] {
		return append(at, t)
	}
	i, found := slices.BinarySearch(at, t)
	if found {
		return at
	}
	return slices.Insert(at, i, t)
}

func (d *dayData) sort() {
	idx := make([]int, len(d.cols))
	for i := range idx {
		idx[i] = i
	}
	slices.SortFunc(idx, func(a, b int) int {
		return cmp.Or(cmp.Compare(d.cols[a].probe, d.cols[b].probe), cmp.Compare(d.nums[a], d.nums[b]))
	})
	cols, nums := make([]*column, len(idx)), make([]int64, len(idx))
	for to, from := range idx {
		cols[to], nums[to] = d.cols[from], d.nums[from]
	}
	d.cols, d.nums = cols, nums
	for i, n := range nums {
		d.index[n] = i
	}
	slices.SortFunc(d.bare.runs, func(a, b faultRun) int {
		return cmp.Or(byFault(a.fault, b.fault), cmp.Compare(a.fault.Kind, b.fault.Kind), cmp.Compare(a.fault.Why, b.fault.Why))
	})
}

// takeBlock decodes one block into the day. A block that cannot be read is named and left out: the rest of the past is worth more than
// its neighbour's loss.
func (j *Journal) takeBlock(d *dayData, k int64, b []byte) {
	num := k & (1<<20 - 1)
	if num == 0 {
		_, r, err := bareOf(b)
		if err != nil {
			j.spoilt(fmt.Sprintf("the faults of %s", dateOfDay(dayOfKey(k))), err)
			return
		}
		d.bare = *r
		return
	}
	_, c, err := columnOf(b)
	if err != nil {
		j.spoilt(fmt.Sprintf("%s on %s", nameOf(num, b), dateOfDay(dayOfKey(k))), err)
		return
	}
	d.put(num, c)
}

// nameOf says whose block it is, as far as a spoilt one tells.
func nameOf(num int64, b []byte) string {
	if len(b) > 3 {
		d := scanner{b: b[3:]}
		d.uvarint()
		if name := d.text(); name != "" && utf8.ValidString(name) {
			return name
		}
	}
	return fmt.Sprintf("series %d", num)
}

// merge adds another day's parts.
func (d *dayData) merge(o *dayData) {
	for i, c := range o.cols {
		mine := d.column(o.nums[i])
		if mine == nil {
			d.put(o.nums[i], c)
			continue
		}
		for k, t := range c.at {
			mine.add(t, c.raw[k], c.suspect != nil && c.suspect[k])
		}
	}
	for _, r := range o.bare.runs {
		for _, t := range r.at {
			d.bare.add(r.fault, t)
		}
	}
	for _, t := range o.bare.empty {
		d.bare.empty = insertTime(d.bare.empty, t)
	}
}

func dateOfDay(day int64) string { return time.UnixMilli(day * dayMS).UTC().Format(time.DateOnly) }

// rounds calls each with every instant of the day in order. The slices handed over are the receiver's to keep.
func (d *dayData) rounds(each func(r sensors.Round) bool) bool {
	total := 0
	for _, c := range d.cols {
		total += len(c.at)
	}
	slab := make([]sensors.Reading, 0, total)
	pos, fpos, epos := make([]int, len(d.cols)), make([]int, len(d.bare.runs)), 0
	for {
		t := int64(-1 << 63)
		some := false
		earlier := func(at []int64, i int) {
			if i < len(at) && (!some || at[i] < t) {
				t, some = at[i], true
			}
		}
		for i, c := range d.cols {
			earlier(c.at, pos[i])
		}
		for i := range d.bare.runs {
			earlier(d.bare.runs[i].at, fpos[i])
		}
		earlier(d.bare.empty, epos)
		if !some {
			return true
		}
		start := len(slab)
		for i, c := range d.cols {
			if k := pos[i]; k < len(c.at) && c.at[k] == t {
				r := sensors.Reading{Probe: c.probe, Raw: c.raw[k], Step: c.step}
				if c.suspect != nil && c.suspect[k] {
					r.Quality = sensors.Suspect
				}
				slab = append(slab, r)
				pos[i]++
			}
		}
		var faults []sensors.Fault
		for i := range d.bare.runs {
			if f := &d.bare.runs[i]; fpos[i] < len(f.at) && f.at[fpos[i]] == t {
				faults = append(faults, f.fault)
				fpos[i]++
			}
		}
		if epos < len(d.bare.empty) && d.bare.empty[epos] == t {
			epos++
		}
		var rs []sensors.Reading
		if len(slab) > start {
			rs = slab[start:len(slab):len(slab)]
		}
		if !each(sensors.Round{At: unstamp(t), Readings: rs, Faults: faults}) {
			return false
		}
	}
}

// eachTail calls each with the tail rows of [from, until), oldest first. What it hands over is used again for the next.
func (j *Journal) eachTail(from, until int64, each func(p *packed) error) error {
	var p packed
	return j.c.query("select t, b from tail where t >= ? and t < ? order by t", func(row []driver.Value) error {
		t := row[0].(int64)
		if err := p.read(t, row[1].([]byte)); err != nil {
			j.spoilt(fmt.Sprintf("the round of %s", unstamp(t).Format(time.RFC3339)), err)
			return nil
		}
		return each(&p)
	}, from, until)
}

// tailDays reads the tail rows of [from, until) as days.
func (j *Journal) tailDays(from, until int64) (days []*dayData, err error) {
	err = j.eachTail(from, until, func(p *packed) error {
		if day := dayOf(p.t); len(days) == 0 || days[len(days)-1].day != day {
			days = append(days, &dayData{day: day})
		}
		days[len(days)-1].add(&j.dict, p)
		return nil
	})
	return days, err
}

// tailColumn reads one series' part of a day that is not sealed, nil when the tail has nothing of that day at all.
func (j *Journal) tailColumn(num, day int64) (c *column, err error) {
	err = j.eachTail(day*dayMS, (day+1)*dayMS, func(p *packed) error {
		if c == nil {
			c = &column{}
			if s := j.dict.byNum[num]; s != nil {
				c.probe, c.step = s.probe, s.step
			}
		}
		for _, r := range p.reads {
			if r.series == num {
				c.add(p.t, r.raw, r.suspect)
				break
			}
		}
		return nil
	})
	return c, err
}
