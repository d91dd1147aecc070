package push

import (
	"context"
	"errors"
	"time"
)

// maxTries is how often a letter that is refused for good is tried before it is set aside: a wrong setting may be mended
// meanwhile, a letter that can never be taken must not hold up those behind it.
const maxTries = 5

// failure is why a letter was not taken.
type failure struct {
	err   error
	final bool          // the other side refused it and will again
	after time.Duration // the other side asked for so much patience
}

func (f *failure) Error() string { return f.err.Error() }
func (f *failure) Unwrap() error { return f.err }

func refused(err error) error { return &failure{err: err, final: true} }

// delivery sends letters one by one, for ways that have no connection to keep.
type delivery struct {
	env   Env
	where string // for people
	send  func(ctx context.Context, l Letter) error

	seq    int64 // the letter that was refused last, and how often
	tries  int
	since  time.Time // failing since; zero: not
	silent bool      // the keeper was told
}

// run sends until ctx ends. Before each try it asks the outbox anew: a letter whose time has passed while the other side was
// away is no longer sent.
func (d *delivery) run(ctx context.Context) error {
	var p patience
	for ctx.Err() == nil {
		l, ok := next(ctx, d.env)
		if !ok {
			break
		}
		var err error
		if l.Says() != "" {
			err = d.send(ctx, l)
		}
		switch after := d.judge(l, err); {
		case ctx.Err() != nil && err != nil:
		case err == nil || after < 0:
			p.rest()
			finish(ctx, d.env, l.Seq)
		default:
			p.wait(ctx, after)
		}
	}
	return ctx.Err()
}

// judge notes how a try went and tells the keeper what only the keeper can mend. It returns how much patience the other side
// asked for, or a negative time when the letter is to be set aside.
func (d *delivery) judge(l Letter, err error) time.Duration {
	if err == nil {
		d.since = time.Time{}
		if d.silent {
			d.silent = false
			d.env.Trouble(TroubleSilent, "")
		}
		return 0
	}
	d.env.Log.Warn("message not taken", "by", d.where, "key", l.Change.Key, "err", err)
	f := &failure{}
	if errors.As(err, &f) && f.final {
		if d.seq != l.Seq {
			d.seq, d.tries = l.Seq, 0
		}
		if d.tries++; d.tries >= maxTries {
			d.env.Trouble(TroubleRefused, d.where+" refused a message "+times(maxTries)+", it was set aside: "+err.Error()+": "+l.Headline())
			return -1
		}
		return f.after
	}
	if d.since.IsZero() {
		d.since = time.Now()
	}
	if !d.silent && time.Since(d.since) >= silentFrom {
		d.silent = true
		d.env.Trouble(TroubleSilent, d.where+" cannot be reached: messages wait until it can ("+err.Error()+")")
	}
	return f.after
}

func times(n int) string {
	return map[int]string{1: "once", 2: "twice", 3: "three times", 4: "four times", 5: "five times"}[n]
}
