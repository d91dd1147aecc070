package journal

import "context"

// Backlog counts what waits in a way's outbox: changes after its mark that have not gone stale.
func (j *Journal) Backlog(ctx context.Context, way string) (n int, err error) {
	err = j.with(ctx, "counting the outbox of "+way, func() error {
		count, _, err := j.c.number("select count(*) from change c where seq > (select value from mark where name = ?)"+
			" and not exists (select 1 from expired e where e.way = ? and e.seq = c.seq)", "push/"+way, way)
		n = int(count)
		return err
	})
	return n, err
}
