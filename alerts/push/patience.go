package push

import (
	"context"
	"time"
)

// patience waits longer after each failure: 5 s, doubling, to 30 min. The zero value starts at the beginning.
type patience struct {
	next time.Duration
}

const (
	firstWait   = 5 * time.Second
	longestWait = 30 * time.Minute
)

// wait sleeps before the next try, at least as long as the other side asked for; false when ctx ended.
func (p *patience) wait(ctx context.Context, asked time.Duration) bool {
	if p.next == 0 {
		p.next = firstWait
	}
	d := min(max(p.next, asked), longestWait)
	p.next = min(2*p.next, longestWait)
	return sleep(ctx, d)
}

// rest starts again at the beginning.
func (p *patience) rest() { p.next = 0 }

func sleep(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}
