package daemon

import (
	"context"
	"sync"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
)

// memoryMost bounds the messages that wait in memory while the journal cannot be written.
const memoryMost = 200

// An outbox hands a way the journal's letters, and while the journal cannot be written those in memory: a full card must not
// silence a frost warning. What was told from memory is passed over once the journal has it.
type outbox struct {
	name  string // of the way
	inner push.Outbox

	mu   sync.Mutex // guards what follows
	wait []alerts.Change
	told map[string]bool
	seq  int64 // of the newest letter from memory, below nought
	some chan struct{}
}

func newOutbox(name string, inner push.Outbox) *outbox {
	return &outbox{name: name, inner: inner, told: map[string]bool{}, some: make(chan struct{}, 1)}
}

// remember takes changes the journal would not take. Only messages are handed out from memory.
func (o *outbox) remember(cs []alerts.Change) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, c := range cs {
		if c.Text != "" && c.To != alerts.ToDigest && !o.told[c.Key] && len(o.wait) < memoryMost {
			o.told[c.Key] = true
			o.wait = append(o.wait, c)
		}
	}
	select {
	case o.some <- struct{}{}:
	default:
	}
}

// waiting is how many messages wait in memory.
func (o *outbox) waiting() int {
	o.mu.Lock()
	defer o.mu.Unlock()
	return len(o.wait)
}

func (o *outbox) first() (push.Letter, bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if len(o.wait) == 0 {
		return push.Letter{}, false
	}
	return push.Letter{Seq: o.seq - 1, Change: o.wait[0]}, true
}

// Next gives the next letter: one from memory first.
func (o *outbox) Next(ctx context.Context) (push.Letter, error) {
	for {
		if l, ok := o.first(); ok {
			return l, nil
		}
		l, err := o.fromJournal(ctx)
		if err != nil || l.Seq != 0 {
			return l, err
		}
	}
}

// fromJournal waits for the journal's next letter, or for one in memory (then the letter is empty).
func (o *outbox) fromJournal(ctx context.Context) (push.Letter, error) {
	inner, stop := context.WithCancel(ctx)
	defer stop()
	woken := make(chan struct{})
	go func() { // ends with this call
		select {
		case <-o.some:
			close(woken)
			stop()
		case <-inner.Done():
		}
	}()
	for {
		l, err := o.inner.Next(inner)
		if err != nil {
			select {
			case <-woken:
				return push.Letter{}, nil
			default:
				return l, err
			}
		}
		o.mu.Lock()
		again := o.told[l.Change.Key]
		delete(o.told, l.Change.Key)
		o.mu.Unlock()
		if !again {
			return l, nil
		}
		if err := o.inner.Done(ctx, l.Seq); err != nil {
			return l, err
		}
	}
}

// Done takes a letter off: memory's own, or the journal's.
func (o *outbox) Done(ctx context.Context, seq int64) error {
	if seq >= 0 {
		return o.inner.Done(ctx, seq)
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	if seq == o.seq-1 && len(o.wait) > 0 {
		o.wait, o.seq = o.wait[1:], seq
	}
	return nil
}
