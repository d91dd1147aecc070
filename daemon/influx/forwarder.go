package influx

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	client "github.com/influxdata/influxdb-client-go/v2"
	answer "github.com/influxdata/influxdb-client-go/v2/api/http"

	"lathwatch/daemon/journal"
	"lathwatch/sensors"
)

// A Source is what the forwarder needs of the journal.
type Source interface {
	Entries(ctx context.Context, from, until time.Time) sensors.Entries
	LateSince(ctx context.Context, seq int64) ([]journal.LateSpan, error)
	Mark(ctx context.Context, name string) (int64, bool, error)
	SetMark(ctx context.Context, name string, value int64) error
	SetAside(ctx context.Context, name, line, answer string) error
}

// Status is how the forwarding stands.
type Status struct {
	Through  time.Time // all rounds up to here are at the server
	Sent     int       // lines acknowledged since the start
	TooOld   int       // lines not sent, or not taken, because the server keeps nothing that old
	Aside    int       // lines the server will never take, set aside since the start
	Failures int       // attempts in a row that failed
	Trouble  string    // why the last one did; "" when it worked
	Resting  bool      // too many failed: the server is asked seldom, with a single round
}

// A Forwarder sends rounds to one server. Its Run is one goroutine; nothing else waits for the server.
type Forwarder struct {
	set  Settings
	src  Source
	log  *slog.Logger
	mark string
	mu   sync.Mutex
	stat Status
}

const (
	writeLimit = 10 * time.Second // a server that accepts and never answers
	catchUp    = 5000             // lines a write when there is much to send
	restAfter  = 5                // failures in a row
	restFor    = 5 * time.Minute
)

// notBefore: an instant before this is a clock that was wrong, not a reading.
var notBefore = time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)

// New makes a forwarder; Run starts it.
func New(set Settings, src Source, log *slog.Logger) *Forwarder {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	return &Forwarder{set: set, src: src, log: log, mark: "influx " + set.URL + " " + set.Bucket}
}

// Mark is the name of its mark in the journal, and of the lines it set aside.
func (f *Forwarder) Mark() string { return f.mark }

// Status is how the forwarding stands now.
func (f *Forwarder) Status() Status {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.stat
}

func (f *Forwarder) note(change func(*Status)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	change(&f.stat)
}

// Run forwards until the context ends. Trouble with the server is retried inside and never returned.
func (f *Forwarder) Run(ctx context.Context) error {
	for ctx.Err() == nil {
		err := f.round(ctx)
		wait := f.set.Every.Duration()
		if err != nil && ctx.Err() == nil {
			wait = f.failed(err)
		}
		timer := time.NewTimer(wait)
		select {
		case <-ctx.Done():
		case <-timer.C:
		}
		timer.Stop()
	}
	return nil
}

// failed counts and gives how long to wait: twice as long each time, with jitter so that many nodes do not come back at once.
func (f *Forwarder) failed(err error) time.Duration {
	n := 0
	f.note(func(s *Status) {
		s.Failures++
		s.Trouble, s.Resting = err.Error(), s.Failures >= restAfter
		n = s.Failures
	})
	if n == 1 || n == restAfter {
		f.log.Warn("influx: forwarding fails, readings wait in the journal", "err", err, "attempts", n)
	}
	wait := min(time.Second<<min(n, 20), restFor)
	return wait - wait/5 + rand.N(wait*2/5+1)
}

func (f *Forwarder) worked(lines int) {
	f.note(func(s *Status) {
		if s.Failures > 0 {
			f.log.Info("influx: forwarding works again", "attempts", s.Failures)
		}
		s.Sent, s.Failures, s.Trouble, s.Resting = s.Sent+lines, 0, "", false
	})
}

// round sends what is new, then what came late into what was sent already.
func (f *Forwarder) round(ctx context.Context) error {
	through, _, err := f.src.Mark(ctx, f.mark)
	if err != nil {
		return err
	}
	if n := f.Status().Failures; n > 0 && f.set.Resend > 0 {
		through = max(0, through-f.set.Resend.Duration().Milliseconds())
	}
	w, err := f.dial()
	if err != nil {
		return err
	}
	defer w.close()
	if err := f.forward(ctx, w, time.UnixMilli(through+1), time.Time{}, true); err != nil {
		return err
	}
	return f.late(ctx, w)
}

func (f *Forwarder) late(ctx context.Context, w *wire) error {
	seq, _, err := f.src.Mark(ctx, f.mark+" late")
	if err != nil {
		return err
	}
	spans, err := f.src.LateSince(ctx, seq)
	if err != nil {
		return err
	}
	for _, s := range spans {
		if err := f.forward(ctx, w, s.First, s.Last.Add(time.Millisecond), false); err != nil {
			return err
		}
		if err := f.src.SetMark(ctx, f.mark+" late", s.Seq); err != nil {
			return err
		}
	}
	return nil
}

// forward sends the rounds of [from, until) in batches; move says that the mark follows what is acknowledged.
func (f *Forwarder) forward(ctx context.Context, w *wire, from, until time.Time, move bool) error {
	var batch []string
	var last time.Time
	oldest := f.oldest()
	flush := func() error {
		if err := f.send(ctx, w, batch); err != nil {
			return err
		}
		batch = batch[:0]
		if !move || last.IsZero() {
			return nil
		}
		f.note(func(s *Status) { s.Through = last })
		return f.src.SetMark(ctx, f.mark, last.UnixMilli())
	}
	for e, err := range f.src.Entries(ctx, from, until) {
		if err != nil {
			return err
		}
		if e.Round == nil {
			continue
		}
		lines := Lines(f.set.Node, e.Round)
		last = e.At
		if e.At.Before(oldest) {
			f.note(func(s *Status) { s.TooOld += len(lines) })
			continue
		}
		batch = append(batch, lines...)
		if len(batch) >= catchUp || f.Status().Resting {
			if err := flush(); err != nil {
				return err
			}
		}
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return flush()
}

func (f *Forwarder) oldest() time.Time {
	if f.set.Keep <= 0 {
		return notBefore
	}
	if t := time.Now().Add(-f.set.Keep.Duration()); t.After(notBefore) {
		return t
	}
	return notBefore
}

// send writes lines and halves what the server refuses, down to the lines it will never take.
func (f *Forwarder) send(ctx context.Context, w *wire, lines []string) error {
	if len(lines) == 0 {
		return nil
	}
	err := w.write(ctx, lines)
	if err == nil {
		f.worked(len(lines))
		return nil
	}
	if n, ok := tooOld(err); ok {
		f.worked(len(lines) - n)
		f.note(func(s *Status) { s.TooOld += n })
		return nil
	}
	if !refused(err) {
		return err
	}
	if len(lines) > 1 {
		half := len(lines) / 2
		if err := f.send(ctx, w, lines[:half]); err != nil {
			return err
		}
		return f.send(ctx, w, lines[half:])
	}
	f.note(func(s *Status) { s.Aside++ })
	f.log.Warn("influx: the server will not take a line; it is set aside", "line", lines[0], "answer", err)
	return f.src.SetAside(ctx, f.mark, lines[0], err.Error())
}

// refused: the server understood and says no; asking again would say no for ever.
func refused(err error) bool {
	var e *answer.Error
	if !errors.As(err, &e) {
		return false
	}
	return e.StatusCode == http.StatusBadRequest || e.StatusCode == http.StatusRequestEntityTooLarge || e.StatusCode == http.StatusUnprocessableEntity
}

var dropped = regexp.MustCompile(`retention policy.*dropped=(\d+)`)

// tooOld reads how many lines lay before what the server keeps; the others of the batch are stored then.
func tooOld(err error) (int, bool) {
	if !refused(err) || strings.Contains(err.Error(), "type conflict") {
		return 0, false
	}
	m := dropped.FindStringSubmatch(err.Error())
	if m == nil {
		return 0, false
	}
	n, e := strconv.Atoi(m[1])
	return n, e == nil
}

// A wire is one connection to the server.
type wire struct {
	c      client.Client
	org    string
	bucket string
}

func (f *Forwarder) dial() (*wire, error) {
	token, err := f.set.token()
	if err != nil {
		return nil, err
	}
	o := client.DefaultOptions().SetUseGZip(true).SetPrecision(time.Millisecond).SetHTTPRequestTimeout(uint(writeLimit / time.Second)).
		SetMaxRetries(0).SetLogLevel(0)
	return &wire{client.NewClientWithOptions(f.set.URL, token, o), f.set.Org, f.set.Bucket}, nil
}

func (w *wire) write(ctx context.Context, lines []string) error {
	ctx, cancel := context.WithTimeout(ctx, writeLimit)
	defer cancel()
	if err := w.c.WriteAPIBlocking(w.org, w.bucket).WriteRecord(ctx, lines...); err != nil {
		return fmt.Errorf("writing %d lines: %w", len(lines), err)
	}
	return nil
}

func (w *wire) close() { w.c.Close() }
