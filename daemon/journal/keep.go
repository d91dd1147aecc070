package journal

import (
	"cmp"
	"context"
	"database/sql/driver"
	"fmt"
	"slices"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
)

// Kept is a round and the changes it caused.
type Kept struct {
	Round   sensors.Round
	Changes []alerts.Change
}

// Keep writes a round and the changes it caused in one transaction. When it returns nil they are on the card. A round of a day
// that is over (the clock went back, a held round was placed) is merged into it. Readings are kept in the order of their probes;
// of two readings of a probe at one instant the first kept stays.
func (j *Journal) Keep(ctx context.Context, r sensors.Round, changes []alerts.Change) error {
	return j.KeepAll(ctx, []Kept{{r, changes}})
}

// KeepAll writes many rounds in one transaction: simulated and imported ones, a day at a time. Live rounds use Keep.
func (j *Journal) KeepAll(ctx context.Context, ks []Kept) error {
	if len(ks) == 0 {
		return nil
	}
	changed := false
	err := j.do(ctx, "keeping a round", func() error {
		for i := range ks {
			if err := j.keepRound(&ks[i].Round); err != nil {
				return err
			}
			fresh, err := j.record(ks[i].Changes)
			if err != nil {
				return err
			}
			changed = changed || fresh
		}
		return j.sealOver(1 + spanDays(ks))
	})
	if err == nil {
		j.sayHad()
		if changed {
			j.wake()
		}
	}
	return err
}

// spanDays is how many days a batch reaches over: so many may be sealed with it, one more when live.
func spanDays(ks []Kept) int {
	return int(dayOf(stamp(ks[len(ks)-1].Round.At)) - dayOf(stamp(ks[0].Round.At)))
}

func (j *Journal) keepRound(r *sensors.Round) error {
	if r.At.IsZero() {
		return fmt.Errorf("a round without an instant")
	}
	p, err := j.pack(r)
	if err != nil {
		return err
	}
	if err := j.place(&p); err != nil {
		return err
	}
	if p.t < j.newest { // a forwarder may be past it
		return j.noteLate("round", j.o.Now(), p.t, p.t, len(p.reads))
	}
	j.newest = p.t
	return nil
}

// pack numbers a round's series and puts its parts into their order.
func (j *Journal) pack(r *sensors.Round) (packed, error) {
	p := packed{t: stamp(r.At), reads: make([]packedReading, 0, len(r.Readings)), faults: r.Faults}
	rs := r.Readings
	if !slices.IsSortedFunc(rs, byProbe) {
		rs = slices.Clone(rs)
		slices.SortStableFunc(rs, byProbe)
	}
	for i := range rs {
		if i > 0 && rs[i].Probe == rs[i-1].Probe {
			continue
		}
		s, err := j.dict.of(j.c, &rs[i], p.t)
		if err != nil {
			return p, err
		}
		p.reads = append(p.reads, packedReading{s.num, rs[i].Raw, rs[i].Quality == sensors.Suspect})
	}
	if !slices.IsSortedFunc(p.faults, byFault) {
		p.faults = slices.Clone(p.faults)
		slices.SortStableFunc(p.faults, byFault)
	}
	return p, nil
}

func byProbe(a, b sensors.Reading) int { return cmp.Compare(a.Probe, b.Probe) }
func byFault(a, b sensors.Fault) int   { return cmp.Compare(a.Probe, b.Probe) }

// place puts a packed round where its day is: into the tail, or into the blocks of a day that is sealed.
func (j *Journal) place(p *packed) error {
	day := dayOf(p.t)
	if day <= j.sealed {
		is, err := j.isSealed(day)
		if err != nil {
			return err
		}
		if is {
			_, err = j.mergeSealed(day, []packed{*p})
			return err
		}
	}
	_, err := j.placeTail(p)
	return err
}

// placeTail gives how many readings were new.
func (j *Journal) placeTail(p *packed) (int, error) {
	fresh := len(p.reads)
	if p.t <= j.newest {
		old, ok, err := j.tailRow(p.t)
		if err != nil {
			return 0, err
		}
		if ok {
			fresh = j.mergePacked(&old, p)
			p = &old
		}
	}
	j.scratch = p.append(j.scratch[:0])
	if _, err := j.c.exec("insert or replace into tail (t, b) values (?, ?)", p.t, j.scratch); err != nil {
		return 0, err
	}
	if day := dayOf(p.t); j.tailDay < 0 || day < j.tailDay {
		j.tailDay = day
	}
	return fresh, nil
}

func (j *Journal) tailRow(t int64) (p packed, ok bool, err error) {
	err = j.c.query("select b from tail where t = ?", func(row []driver.Value) error {
		p, err = unpack(t, row[0].([]byte))
		if err != nil { // a row that cannot be read is replaced by what comes now
			j.spoilt(fmt.Sprintf("the round of %s", unstamp(t).Format(time.RFC3339)), err)
			return nil
		}
		ok = true
		return nil
	}, t)
	return p, ok, err
}

// mergePacked adds to old what p knows of probes old did not hear, and gives how many readings that were.
func (j *Journal) mergePacked(old, p *packed) int {
	fresh := 0
	for _, r := range p.reads {
		probe := j.dict.byNum[r.series].probe
		if slices.ContainsFunc(old.reads, func(o packedReading) bool { return j.probeOf(o.series) == probe }) {
			continue
		}
		old.reads = append(old.reads, r)
		fresh++
	}
	slices.SortStableFunc(old.reads, func(a, b packedReading) int { return cmp.Compare(j.probeOf(a.series), j.probeOf(b.series)) })
	for _, f := range p.faults {
		if !slices.Contains(old.faults, f) {
			old.faults = append(old.faults, f)
		}
	}
	slices.SortStableFunc(old.faults, byFault)
	return fresh
}

func (j *Journal) probeOf(num int64) sensors.ProbeID {
	if s := j.dict.byNum[num]; s != nil {
		return s.probe
	}
	return ""
}

// Newest is the instant of the newest round, zero when there is none.
func (j *Journal) Newest(ctx context.Context) (t time.Time, err error) {
	err = j.with(ctx, "reading the newest round's time", func() error {
		t = unstamp(j.newest)
		return nil
	})
	return t, err
}
