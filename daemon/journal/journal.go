package journal

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"time"
)

// Options say how a journal is opened. The zero value is the daemon's own: writing, a ballast of 1 MiB, days cut in UTC.
type Options struct {
	ReadOnly bool           // read a backup, a copy or an export's source; nothing beside it is written
	Zone     *time.Location // the site's, for day summaries; nil is UTC
	Ballast  int64          // bytes kept on the card to be given up when it is full; 0 is 1 MiB, less than 0 none
	Backups  string         // folder of the backups, "" is "backups" beside the journal
	Keep     int            // how many backups are kept, 0 is 3
	Log      *slog.Logger   // nil: silent
	Now      func() time.Time
	// Committed is told how long each transaction took, from its beginning until it lay on the card; nil: nobody asks. It is called with
	// the connection held and must not block.
	Committed func(time.Duration)
}

// A Journal is the past on one file. Its methods may be called from any goroutine.
type Journal struct {
	path   string
	o      Options
	turn   chan struct{} // holds one token while somebody works on the connection
	closed bool          // guarded by turn
	c      *conn
	lock   *lockFile
	temp   string // folder of a working copy, removed on Close
	report Report
	had    bool // the side file that says data existed is written

	dict    dictionary
	sealed  int64 // newest sealed day, -1 none
	tailDay int64 // oldest day with rows in the tail, -1 none
	newest  int64 // newest instant of a round, UTC ms
	scratch []byte
	enc     encoder
	recent  [2]*dayData // days sealed last, as they lie in the blocks

	zone      int64 // number of o.Zone in the file, 0 while none
	otherZone bool  // the day summaries were made for another zone

	mu    sync.Mutex // guards what is below, which is touched without the turn
	boxes []chan struct{}
	bad   map[string]bool
}

func (o *Options) defaults(path string) {
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	if o.Ballast == 0 {
		o.Ballast = 1 << 20
	}
	if o.Backups == "" {
		o.Backups = backupsBeside(path)
	}
	if o.Keep == 0 {
		o.Keep = 3
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
}

// Report says what had to be done to open the journal; the zero Report: nothing.
func (j *Journal) Report() Report { return j.report }

// Path is the file the journal lies in.
func (j *Journal) Path() string { return j.path }

// load reads what is kept in memory of the file. It is called with the turn held, at start and after a rollback.
func (j *Journal) load() error {
	var err error
	if j.dict, err = loadDictionary(j.c); err != nil {
		return err
	}
	j.sealed, j.tailDay, j.newest = -1, -1, 0
	j.zone, j.recent = 0, [2]*dayData{}
	k, ok, err := j.c.number("select max(k) from block")
	if err != nil {
		return err
	}
	if ok {
		j.sealed = dayOfKey(k)
	}
	first, ok, err := j.c.number("select min(t) from tail")
	if err != nil {
		return err
	}
	if ok {
		j.tailDay = dayOf(first)
	}
	if j.newest, err = j.findNewest(); err != nil {
		return err
	}
	made, ok, err := j.c.word("select value from meta where name = 'zone of days'")
	j.otherZone = ok && made != j.o.Zone.String()
	return err
}

// do waits for the turn, opens a transaction, works, and commits. On any error nothing has happened. The context only bounds
// the waiting: work that has begun is finished, so that a caller never wonders whether its round was kept.
func (j *Journal) do(ctx context.Context, doing string, work func() error) error {
	return j.with(ctx, doing, func() error {
		if j.o.ReadOnly {
			return ErrReadOnly
		}
		began := time.Now()
		err := j.once(work)
		if isFull(err) && j.dropBallast() {
			err = j.once(work)
		}
		if err == nil && j.o.Committed != nil {
			j.o.Committed(time.Since(began))
		}
		return err
	})
}

func (j *Journal) once(work func() error) error {
	if err := j.c.begin(); err != nil {
		return err
	}
	err := work()
	if err == nil {
		err = j.c.commit()
	}
	if err != nil {
		j.c.rollback()
		if e := j.load(); e != nil { // what the transaction had put into memory is not in the file
			j.o.Log.Error("journal: reading the dictionary again", "err", e)
		}
	}
	return err
}

// with waits for the turn and works on the connection without a transaction.
func (j *Journal) with(ctx context.Context, doing string, work func() error) error {
	if err := j.take(ctx); err != nil {
		return fmt.Errorf("%s: %w", doing, err)
	}
	defer j.give()
	if err := classify(work()); err != nil {
		return fmt.Errorf("%s: %w", doing, err)
	}
	return nil
}

func (j *Journal) take(ctx context.Context) error {
	select {
	case j.turn <- struct{}{}:
	default:
		select {
		case j.turn <- struct{}{}:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	if j.closed {
		<-j.turn
		return ErrClosed
	}
	return nil
}

func (j *Journal) give() { <-j.turn }

// Close ends the journal. What was acknowledged is on the card already.
func (j *Journal) Close() error {
	if err := j.take(context.Background()); err != nil {
		return nil
	}
	defer j.give()
	j.closed = true
	if !j.o.ReadOnly {
		_ = j.c.script("pragma wal_checkpoint(TRUNCATE)") // a full card may refuse it; the log is replayed at the next start
	}
	err := j.c.close()
	j.lock.release()
	if j.temp != "" {
		_ = os.RemoveAll(j.temp)
	}
	return err
}

// stamp is the whole-number time of the file: UTC milliseconds.
func stamp(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixMilli()
}

func unstamp(ms int64) time.Time {
	if ms == 0 {
		return time.Time{}
	}
	return time.UnixMilli(ms).UTC()
}

const dayMS = 86400_000

func dayOf(ms int64) int64 {
	d := ms / dayMS
	if ms%dayMS < 0 {
		d--
	}
	return d
}
