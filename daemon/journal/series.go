package journal

import (
	"cmp"
	"database/sql/driver"
	"fmt"
	"slices"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// A series is one probe counting in one step. A probe whose step changes goes on as another series from then on; a probe whose
// wire or address changes does not.
type series struct {
	num   int64
	probe sensors.ProbeID
	step  units.Step
	since int64     // UTC ms of the reading that made it
	mates []*series // the other series of the same probe
}

type seriesKey struct {
	probe sensors.ProbeID
	step  units.Step
}

// dictionary is the series table held in memory.
type dictionary struct {
	byKey map[seriesKey]*series
	byNum map[int64]*series
}

func loadDictionary(c *conn) (dictionary, error) {
	d := dictionary{map[seriesKey]*series{}, map[int64]*series{}}
	err := c.query("select id, probe, unit, num, den, since from series order by id", func(row []driver.Value) error {
		u, err := units.FromSenML(row[2].(string))
		if err != nil {
			return fmt.Errorf("series %d of %s: %w", row[0], row[1], err)
		}
		d.put(&series{row[0].(int64), sensors.ProbeID(row[1].(string)),
			units.Step{Unit: u, Num: int32(row[3].(int64)), Den: int32(row[4].(int64))}, row[5].(int64), nil})
		return nil
	})
	return d, err
}

func (d *dictionary) put(s *series) {
	for _, o := range d.ofProbe(s.probe) {
		o.mates, s.mates = append(o.mates, s), append(s.mates, o)
	}
	d.byKey[seriesKey{s.probe, s.step}], d.byNum[s.num] = s, s
}

// of finds the series of a reading or makes it, within the transaction that is open.
func (d *dictionary) of(c *conn, r *sensors.Reading, t int64) (*series, error) {
	if s, ok := d.byKey[seriesKey{r.Probe, r.Step}]; ok {
		return s, nil
	}
	if !r.Step.Unit.Known() {
		return nil, fmt.Errorf("a reading of %s has no unit", r.Probe)
	}
	s := &series{num: int64(len(d.byNum)) + 1, probe: r.Probe, step: r.Step, since: t}
	for d.byNum[s.num] != nil {
		s.num++
	}
	_, err := c.exec("insert into series (id, probe, unit, num, den, since) values (?, ?, ?, ?, ?, ?)",
		s.num, string(s.probe), s.step.Unit.SenML(), int64(s.step.Num), int64(s.step.Den), t)
	if err == nil {
		d.put(s)
	}
	return s, err
}

// ofProbe lists a probe's series, oldest first.
func (d *dictionary) ofProbe(id sensors.ProbeID) []*series {
	var ss []*series
	for _, s := range d.byNum {
		if s.probe == id {
			ss = append(ss, s)
		}
	}
	slices.SortFunc(ss, func(a, b *series) int { return cmp.Compare(a.num, b.num) })
	return ss
}
