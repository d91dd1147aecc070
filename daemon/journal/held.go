package journal

import (
	"context"
	"database/sql/driver"
	"slices"
	"time"

	"lathwatch/sensors"
)

// A HeldRound was walked while nobody could vouch for the clock. Mono is the time since its boot.
type HeldRound struct {
	Boot  string
	Mono  time.Duration
	Round sensors.Round // At is what the untrusted clock said
}

// Hold keeps a round whose time is not known yet.
func (j *Journal) Hold(ctx context.Context, h HeldRound) error {
	err := j.do(ctx, "holding a round", func() error {
		p, err := j.pack(&h.Round)
		if err != nil {
			return err
		}
		_, err = j.c.exec("insert into held (boot, mono, b) values (?, ?, ?)", h.Boot, h.Mono.Milliseconds(), p.appendWithTime(nil))
		return err
	})
	if err == nil {
		j.sayHad()
	}
	return err
}

// Held lists the rounds that wait for a clock, in the order in which they were walked.
func (j *Journal) Held(ctx context.Context) (hs []HeldRound, err error) {
	err = j.with(ctx, "reading held rounds", func() error {
		return j.eachHeld("", func(_ int64, h HeldRound) error {
			hs = append(hs, h)
			return nil
		})
	})
	return hs, err
}

func (j *Journal) eachHeld(boot string, each func(id int64, h HeldRound) error) error {
	return j.c.query("select id, boot, mono, b from held where ? = '' or boot = ? order by id", func(row []driver.Value) error {
		p, err := unpackWithTime(row[3].([]byte))
		if err != nil {
			j.spoilt("a held round", err)
			return nil
		}
		return each(row[0].(int64), HeldRound{row[1].(string), time.Duration(row[2].(int64)) * time.Millisecond, j.unpacked(&p)})
	}, boot, boot)
}

// PlaceHeld places the held rounds of a boot now that it is known when it began: a round's instant is that plus its monotonic
// time, to the whole second. Where another round's probes said something else at that second (the clock was set back and an hour comes
// twice), it takes the next: both are kept. Rounds of other boots stay, for nothing says when those were.
func (j *Journal) PlaceHeld(ctx context.Context, boot string, began time.Time) (placed []sensors.Round, err error) {
	err = j.do(ctx, "placing held rounds", func() error {
		placed = nil
		err := j.eachHeld(boot, func(_ int64, h HeldRound) error {
			h.Round.At = began.Add(h.Mono).UTC().Round(time.Second)
			placed = append(placed, h.Round)
			return nil
		})
		if err != nil {
			return err
		}
		for i := range placed {
			if err := j.besides(&placed[i]); err != nil {
				return err
			}
			if err := j.keepRound(&placed[i]); err != nil {
				return err
			}
		}
		if _, err = j.c.exec("delete from held where boot = ?", boot); err != nil {
			return err
		}
		return j.sealOver(1)
	})
	return placed, err
}

// besides moves a round to the next second at which none of its probes said something else.
func (j *Journal) besides(r *sensors.Round) error {
	p, err := j.pack(r)
	for err == nil && p.t <= j.newest {
		var taken bool
		if taken, err = j.contradicts(&p); !taken {
			break
		}
		r.At, p.t = r.At.Add(time.Second), p.t+1000
	}
	return err
}

// contradicts reports whether one of the probes is on record at the same instant with another reading.
func (j *Journal) contradicts(p *packed) (bool, error) {
	if sealed, err := j.isSealed(dayOf(p.t)); err != nil || sealed {
		return err == nil && j.contradictsDay(p), err
	}
	old, ok, err := j.tailRow(p.t)
	if !ok || err != nil {
		return false, err
	}
	for _, r := range p.reads {
		for _, o := range old.reads {
			if j.probeOf(o.series) == j.probeOf(r.series) && (o.series != r.series || o.raw != r.raw) {
				return true, nil
			}
		}
	}
	return false, nil
}

func (j *Journal) contradictsDay(p *packed) bool {
	d, err := j.readDay(dayOf(p.t))
	if err != nil {
		return false
	}
	for _, r := range p.reads {
		if d.holds(j.dict.byNum[r.series], p.t) {
			return true
		}
		if c := d.column(r.series); c != nil {
			if i, found := slices.BinarySearch(c.at, p.t); found && c.raw[i] != r.raw {
				return true
			}
		}
	}
	return false
}

// unpacked gives a packed round its probes and steps back.
func (j *Journal) unpacked(p *packed) sensors.Round {
	d := &dayData{}
	d.add(&j.dict, p)
	d.sort()
	r := sensors.Round{At: unstamp(p.t)}
	d.rounds(func(got sensors.Round) bool {
		r = got
		return false
	})
	return r
}
