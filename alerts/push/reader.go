package push

import (
	"context"
	"sync"
)

// reader hands out the outbox's letters on a channel, one at a time: the next only after the last is done. A nil outbox is empty.
type reader struct {
	c     chan Letter
	env   Env
	acked chan struct{}
	end   context.CancelFunc
	wg    sync.WaitGroup
}

func newReader(ctx context.Context, env Env) *reader {
	ctx, end := context.WithCancel(ctx)
	r := &reader{c: make(chan Letter), env: env, acked: make(chan struct{}), end: end}
	if env.Outbox != nil {
		r.wg.Go(func() { r.read(ctx) })
	}
	return r
}

// stop ends the reader and waits for it, so that two connections never read the outbox at once.
func (r *reader) stop() {
	r.end()
	r.wg.Wait()
}

func (r *reader) read(ctx context.Context) {
	for {
		l, ok := next(ctx, r.env)
		if !ok {
			return
		}
		select {
		case r.c <- l:
		case <-ctx.Done():
			return
		}
		select {
		case <-r.acked:
		case <-ctx.Done():
			return
		}
	}
}

// done moves the mark and lets the reader go on.
func (r *reader) done(ctx context.Context, seq int64) {
	if finish(ctx, r.env, seq) {
		select {
		case r.acked <- struct{}{}:
		case <-ctx.Done():
		}
	}
}

// next waits for a letter; false when ctx ended. A journal that cannot be read just now is tried again.
func next(ctx context.Context, env Env) (Letter, bool) {
	var p patience
	for {
		l, err := env.Outbox.Next(ctx)
		if err == nil {
			return l, true
		}
		if ctx.Err() != nil {
			return Letter{}, false
		}
		env.Log.Error("reading the outbox", "err", err)
		if !p.wait(ctx, 0) {
			return Letter{}, false
		}
	}
}

// finish moves the mark past a letter that was taken; false when ctx ended before it could be.
func finish(ctx context.Context, env Env, seq int64) bool {
	var p patience
	for {
		err := env.Outbox.Done(ctx, seq)
		if err == nil {
			return true
		}
		if ctx.Err() != nil {
			return false
		}
		env.Log.Error("moving the outbox mark", "err", err)
		if !p.wait(ctx, 0) {
			return false
		}
	}
}
