package poll

import (
	"context"
	"fmt"
	"slices"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
)

// An order asks a bus for one visit.
type order struct {
	ctx   context.Context // ends with the round
	begun time.Time
	reply chan<- result     // has room
	only  []sensors.ProbeID // nil: a round, in which misses are counted; else just these (none named: all)
}

// A result is what a source, a bus or all buses gave.
type result struct {
	bus      *bus
	readings []sensors.Reading
	faults   []sensors.Fault
	late     []sensors.LateReading
}

func (r *result) add(o result) {
	r.readings = append(r.readings, o.readings...)
	r.faults = append(r.faults, o.faults...)
	r.late = append(r.late, o.late...)
}

// A bus is one worker and the chips it alone asks, one after the other.
type bus struct {
	p      *Poller
	name   string
	slots  []*slot
	orders chan order
	beat   beat
	count  counts
	hung   beat // since when a chip has not come back
}

// run answers orders until ctx ends. It never waits for a source longer than the source's limit, so it always comes round.
func (b *bus) run(ctx context.Context) error {
	pulse := time.NewTicker(nap)
	defer pulse.Stop()
	defer b.close()
	for {
		b.beat.now()
		b.lookForHung()
		select {
		case <-ctx.Done():
			return nil
		case <-pulse.C:
		case o := <-b.orders:
			o.reply <- b.visit(o)
		}
	}
}

// visit asks the chips in turn. While one that shares the wires hangs, none of the others is asked.
func (b *bus) visit(o order) result {
	all, down := result{bus: b}, 0
	for _, s := range b.slots {
		s.collect()
	}
	for _, s := range b.slots {
		if !s.wanted(o) {
			continue
		}
		var r result
		switch hanging := b.hanging(s); {
		case o.ctx.Err() != nil:
			r.faults = silent(s.wishes, "not reached in this round")
		case hanging != nil:
			r.faults = silent(s.wishes, fmt.Sprintf("the bus hangs since %s was asked", ids(hanging.wishes)))
		default:
			r = s.visit(o, b)
		}
		if s.mute(r) {
			down++
		}
		if o.only == nil {
			s.count(r)
		}
		all.add(r)
		b.beat.now()
	}
	if o.only == nil {
		b.count.visited(all, down)
		b.speak()
	}
	return all
}

// lookForHung notes since when the chip that has been out longest has not come back; one whose answer lies waiting has.
func (b *bus) lookForHung() {
	var since time.Time
	for _, s := range b.slots {
		if s.out != nil && len(s.out) == 0 && (since.IsZero() || s.asked.Before(since)) {
			since = s.asked
		}
	}
	b.hung.at.Store(&since)
}

// hanging finds another chip that has not come back and holds the wires.
func (b *bus) hanging(s *slot) *slot {
	for _, other := range b.slots {
		if other != s && other.out != nil && !other.wishes[0].Apart {
			return other
		}
	}
	return nil
}

func (b *bus) silent(only []sensors.ProbeID, why string) []sensors.Fault {
	var fs []sensors.Fault
	for _, s := range b.slots {
		if s.wanted(order{only: only}) {
			fs = append(fs, silent(s.wishes, why)...)
		}
	}
	return fs
}

// misses is how many rounds in a row a chip may be silent before it is said.
const misses = 3

// speak tells of chips that have been silent for three rounds: one word for the bus when all of them are, else one a chip.
func (b *bus) speak() {
	down := 0
	for _, s := range b.slots {
		if s.missed >= misses {
			down++
		}
	}
	for _, s := range b.slots {
		if s.said != "" && s.missed == 0 { // it answers again
			b.p.mended(b.name, s.said)
			s.said = ""
		}
	}
	whole := down == len(b.slots) && down > 1
	for _, s := range b.slots {
		if s.missed < misses || s.said != "" {
			continue
		}
		s.said = fmt.Sprintf("%s (%s) has not answered for %d rounds", ids(s.wishes), s.wishes[0].Chip, misses)
		if whole {
			s.said = fmt.Sprintf("nothing on %s has answered for %d rounds: look at its plug and power", b.name, misses)
		}
		b.p.notice(b.name, s.said)
	}
}

func (b *bus) close() {
	for _, s := range b.slots {
		if s.src != nil && s.out == nil {
			if err := s.src.Close(); err != nil {
				b.p.cfg.Env.Log.Warn("closing a source", "chip", s.wishes[0].Chip, "why", err)
			}
		}
	}
}

func (s *slot) wanted(o order) bool {
	return len(o.only) == 0 || slices.ContainsFunc(s.wishes, func(w drivers.Wish) bool { return slices.Contains(o.only, w.Probe) })
}
