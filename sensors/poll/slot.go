package poll

import (
	"context"
	"fmt"
	"runtime/debug"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
)

// A slot is one chip's place on its bus: its source while there is one, and how it has been doing.
type slot struct {
	wishes []drivers.Wish
	src    drivers.Source
	out    chan answer // set while a poll has not come back
	asked  time.Time   // when it was asked last
	tries  int         // failures in a row
	after  time.Time   // not asked again before
	missed int         // rounds in a row without a sign of life
	said   string      // of its silence; "": nothing
}

// An answer is what a goroutine that asks brings back.
type answer struct {
	result
	src drivers.Source
	err error // the source could not be opened
}

// Back-off between a failure and the next try with a fresh source.
const (
	firstRetry = 5 * time.Second
	lastRetry  = 5 * time.Minute
)

// collect takes in a poll that has come back long after its time: the answer is dropped and so is the source, whose state
// nobody knows.
func (s *slot) collect() {
	if s.out == nil {
		return
	}
	select {
	case a := <-s.out:
		s.out, s.src = nil, a.src
		s.drop()
	default:
	}
}

// visit opens the source if need be and asks it once, in a goroutine that is left behind when it does not come back in time.
func (s *slot) visit(o order, b *bus) result {
	if s.out != nil {
		return result{faults: silent(s.wishes, "still has not come back")}
	}
	if s.src == nil && o.begun.Before(s.after.Add(-time.Second)) {
		return result{faults: silent(s.wishes, "offline, tried again later")}
	}
	ctx, cancel := context.WithTimeout(o.ctx, b.p.cfg.Answer)
	defer cancel()
	out := make(chan answer, 1)
	s.asked = time.Now()
	go s.ask(ctx, b.p.cfg.Env, s.src, out)
	select {
	case a := <-out:
		return s.take(a, o, b)
	case <-ctx.Done():
	}
	select { // a source that minds its deadline answers just now
	case a := <-out:
		return s.take(a, o, b)
	case <-time.After(250 * time.Millisecond):
	}
	s.out, s.src = out, nil
	s.fail(o)
	return result{faults: silent(s.wishes, fmt.Sprintf("no answer in %v", b.p.cfg.Answer))}
}

// ask runs in its own goroutine and ends when the source comes back. A driver that panics must not take the frost watch with it.
func (s *slot) ask(ctx context.Context, env drivers.Env, src drivers.Source, out chan<- answer) {
	a := answer{src: src}
	defer func() {
		if r := recover(); r != nil {
			env.Log.Error("a driver panicked", "chip", s.wishes[0].Chip, "why", r, "stack", string(debug.Stack()))
			a.err = fmt.Errorf("the driver failed: %v", r)
		}
		out <- a
	}()
	if a.src == nil {
		if a.src, a.err = s.wishes[0].Open(env, s.wishes); a.err != nil {
			a.src = nil
			return
		}
	}
	a.readings, a.faults = a.src.Poll(ctx)
	if l, ok := a.src.(drivers.Latecomer); ok {
		a.late = l.Late()
	}
}

// take judges an answer: a source that gave nothing but silence is closed and made afresh after a while.
func (s *slot) take(a answer, o order, b *bus) result {
	s.src = a.src
	if a.err != nil {
		s.drop()
		s.fail(o)
		return result{faults: silent(s.wishes, a.err.Error())}
	}
	if other := b.p.claim(s, a.src); other != nil {
		s.drop()
		s.fail(o)
		return result{faults: silent(s.wishes, fmt.Sprintf("the same sensor is read as %s: one path to a sensor", ids(other.wishes)))}
	}
	if s.mute(a.result) && !s.wishes[0].Waits {
		s.drop()
		s.fail(o)
	} else {
		s.tries = 0
	}
	return a.result
}

// mute reports whether every probe of the chip was silent.
func (s *slot) mute(r result) bool {
	n := 0
	for _, f := range r.faults {
		if f.Kind == sensors.Silent {
			n++
		}
	}
	return n == len(s.wishes)
}

func (s *slot) count(r result) {
	if s.mute(r) {
		s.missed++
		return
	}
	s.missed = 0
}

func (s *slot) fail(o order) {
	wait := lastRetry
	if s.tries < 6 {
		wait = firstRetry << s.tries
	}
	s.tries++
	s.after = o.begun.Add(wait)
}

func (s *slot) drop() {
	if s.src != nil {
		_ = s.src.Close() // it has failed already
	}
	s.src = nil
}

// A claimer knows only once it is open which chip it reads (a kernel file found by name).
type claimer interface{ Claims() string }

// claim gives the other slot that already reads the source's chip, if any.
func (p *Poller) claim(s *slot, src drivers.Source) *slot {
	c, ok := src.(claimer)
	if !ok || c.Claims() == "" {
		return nil
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if owner := p.claims[c.Claims()]; owner != nil && owner != s {
		return owner
	}
	p.claims[c.Claims()] = s
	return nil
}
