package journal

import (
	"context"
	"database/sql/driver"
	"sync"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
)

// wake tells every way out that there is something new. Each has one slot: a way that is busy looks again when it is done.
func (j *Journal) wake() {
	j.mu.Lock()
	defer j.mu.Unlock()
	for _, c := range j.boxes {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}

// Outbox gives the reader of one way out. A way's mark is kept by its name; a way seen for the first time starts at what comes
// after now. Only one goroutine may use it.
func (j *Journal) Outbox(way string) push.Outbox {
	o := &outbox{j: j, mark: "push/" + way, way: way, woken: make(chan struct{}, 1)}
	j.mu.Lock()
	j.boxes = append(j.boxes, o.woken)
	j.mu.Unlock()
	o.once.Do(o.start)
	return o
}

type outbox struct {
	j     *Journal
	way   string
	mark  string
	woken chan struct{}
	once  sync.Once
	err   error
}

// start sets the mark of a new way. It is tried again by Next if the card refused it.
func (o *outbox) start() {
	o.err = o.j.do(context.Background(), "starting the outbox of "+o.way, func() error {
		_, err := o.j.c.exec("insert or ignore into mark (name, value) select ?, coalesce(max(seq), 0) from change", o.mark)
		return err
	})
}

func (o *outbox) Next(ctx context.Context) (push.Letter, error) {
	if o.err != nil {
		if o.start(); o.err != nil {
			return push.Letter{}, o.err
		}
	}
	for {
		l, ok, err := o.pick(ctx)
		if ok || err != nil {
			return l, err
		}
		select {
		case <-o.woken:
		case <-ctx.Done():
			return push.Letter{}, ctx.Err()
		}
	}
}

// pick finds the first change after the mark that is not stale. Only a message goes stale; a change without text states a fact
// and is always handed out.
func (o *outbox) pick(ctx context.Context) (l push.Letter, ok bool, err error) {
	j := o.j
	now := stamp(j.o.Now())
	var stale []int64
	look := func() error {
		mark, _, err := j.c.number("select value from mark where name = ?", o.mark)
		if err != nil {
			return err
		}
		return j.c.query("select "+changeColumns+", (select 1 from expired e where e.way = ? and e.seq = c.seq)"+
			" from change c where seq > ? order by seq", func(row []driver.Value) error {
			seq, c, err := changeOf(row)
			if err != nil {
				return err
			}
			_, was := row[13].(int64)
			if !was && !(c.Text != "" && !c.Until.IsZero() && stamp(c.Until) < now) {
				l.Seq, l.Change, ok = seq, c, true
				return errStop
			}
			if !was {
				stale = append(stale, seq)
			}
			if o.tells(c) {
				l.Expired = append(l.Expired, c.Text)
			}
			return nil
		}, o.way, mark)
	}
	if err := j.with(ctx, "looking into the outbox of "+o.way, look); err != nil {
		return push.Letter{}, false, err
	}
	if len(stale) > 0 {
		err = j.do(ctx, "marking stale messages", func() error {
			for _, seq := range stale {
				if _, err := j.c.exec("insert or ignore into expired (way, seq, at) values (?, ?, ?)", o.way, seq, now); err != nil {
					return err
				}
			}
			return nil
		})
	}
	if !ok {
		l = push.Letter{}
	}
	return l, ok && err == nil, err
}

// tells: a line of a digest went stale with its digest and is not listed by itself.
func (o *outbox) tells(c alerts.Change) bool { return c.To != "digest" }

// Done moves the mark past a letter. It never moves back.
func (o *outbox) Done(ctx context.Context, seq int64) error {
	return o.j.do(ctx, "moving the mark of "+o.way, func() error {
		_, err := o.j.c.exec("insert into mark (name, value) values (?, ?) on conflict (name) do update set value = max(value, excluded.value)",
			o.mark, seq)
		return err
	})
}
