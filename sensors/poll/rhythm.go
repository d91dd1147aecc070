package poll

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"time"

	"lathwatch/sensors"
)

// A Visit is what one appointed minute brought: a round, or a batch of late readings that came with it, which goes before.
type Visit struct {
	Seq   uint64 // counts visits since start, whatever the wall clock does
	Entry sensors.Entry
	Stamp Stamp
}

// nap is the longest sleep between two looks at the wall clock: timers stand still while a board is suspended and do not hear
// of a step, so due times are worked out anew at every wake.
const nap = 20 * time.Second

// rhythm is when the next round is due, from the wall clock alone.
type rhythm struct {
	every time.Duration
	prev  time.Time // the last appointed instant
}

// due gives the appointed instant whose round is to be walked now, or how long to wait. However long the wall clock leapt
// ahead there is one round to catch up, and none when more than half the time to the next has gone. After a step back
// by more than one round the rhythm starts anew from there.
func (r *rhythm) due(wall time.Time) (at time.Time, wait time.Duration) {
	at = wall.Truncate(r.every)
	if r.prev.Sub(wall) > r.every {
		r.prev = at
	}
	if at.After(r.prev) && wall.Sub(at) <= r.every/2 {
		r.prev = at
		return at, 0
	}
	next := at.Add(r.every)
	if !next.After(r.prev) {
		next = r.prev.Add(r.every)
	}
	return time.Time{}, min(next.Sub(wall), nap)
}

// conduct keeps the rhythm.
func (p *Poller) conduct(ctx context.Context) error {
	r := rhythm{every: p.cfg.Every, prev: p.clock.newest()}
	for {
		p.beat.now()
		at, wait := r.due(p.clock.wall())
		if at.IsZero() {
			select {
			case <-ctx.Done():
				return nil
			case <-time.After(wait):
			}
			continue
		}
		stamp := p.clock.Stamp()
		round, late := p.walk(ctx, at, nil)
		if ctx.Err() != nil {
			return nil
		}
		if p.cfg.Door != nil {
			round = p.cfg.Door.Admit(round)
		}
		if stamp.Trusted {
			p.clock.saw(at)
		}
		if len(late) > 0 {
			p.emit(ctx, sensors.Entry{At: at, Late: &sensors.Late{ID: lateID(late), Readings: late}}, stamp)
		}
		p.emit(ctx, sensors.Entry{At: at, Round: &round}, stamp)
	}
}

func (p *Poller) emit(ctx context.Context, e sensors.Entry, s Stamp) {
	p.seq++
	select {
	case p.out <- Visit{Seq: p.seq, Entry: e, Stamp: s}:
	case <-ctx.Done():
	}
}

// Ask reads some probes (all when none is named) outside the rhythm, for a calibration or a look at the buses. The workers
// must be running. What it brings is not counted.
func (p *Poller) Ask(ctx context.Context, probes ...sensors.ProbeID) (sensors.Round, error) {
	if probes == nil {
		probes = []sensors.ProbeID{}
	}
	round, _ := p.walk(ctx, p.clock.wall().Truncate(time.Second), probes)
	return round, ctx.Err()
}

// walk sends an order to every bus and gathers what comes back in time.
func (p *Poller) walk(ctx context.Context, at time.Time, only []sensors.ProbeID) (sensors.Round, []sensors.LateReading) {
	limit, cancel := context.WithTimeout(ctx, p.cfg.Round)
	defer cancel()
	replies := make(chan result, len(p.buses))
	o := order{ctx: limit, begun: time.Now(), reply: replies, only: only}
	var all result
	waiting := map[*bus]bool{}
	for _, b := range p.buses {
		select {
		case b.orders <- o:
			waiting[b] = true
		default:
			all.faults = append(all.faults, b.silent(only, "the last round on this bus is not over")...)
		}
	}
	grace := time.NewTimer(p.cfg.Round + time.Second)
	defer grace.Stop()
	for len(waiting) > 0 {
		select {
		case r := <-replies:
			delete(waiting, r.bus)
			all.add(r)
			continue
		case <-grace.C:
		case <-ctx.Done():
		}
		break
	}
	for _, b := range p.buses {
		if waiting[b] {
			all.faults = append(all.faults, b.silent(only, "no answer in this round")...)
		}
	}
	return all.round(at), all.late
}

// round puts everything in order of probe id.
func (r result) round(at time.Time) sensors.Round {
	slices.SortStableFunc(r.readings, func(a, b sensors.Reading) int { return cmp.Compare(a.Probe, b.Probe) })
	slices.SortStableFunc(r.faults, func(a, b sensors.Fault) int { return cmp.Compare(a.Probe, b.Probe) })
	slices.SortStableFunc(r.late, func(a, b sensors.LateReading) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Probe, b.Probe))
	})
	return sensors.Round{At: at.UTC(), Readings: r.readings, Faults: r.faults}
}

// lateID is made from the batch's content, so that the same batch twice is one.
func lateID(late []sensors.LateReading) string {
	h := sha256.New()
	for _, l := range late {
		fmt.Fprintln(h, l.At.Unix(), l.Probe, l.Raw, l.Step)
	}
	return hex.EncodeToString(h.Sum(nil)[:8])
}
