package daemon

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"lathwatch/daemon/vitals"
	"lathwatch/sensors/garden"
)

// countedJournal counts how often it is asked; it takes a while to answer.
type countedJournal struct {
	asked int
	takes time.Duration
	err   error
}

func (c *countedJournal) Newest(ctx context.Context) (time.Time, error) {
	c.asked++
	select {
	case <-time.After(c.takes):
		return time.Time{}, c.err
	case <-ctx.Done():
		return time.Time{}, ctx.Err()
	}
}

func wellReport(time.Time) vitals.Report {
	return vitals.Report{Rounds: vitals.Rounds{Every: time.Minute}}
}

// Anybody on the network may ask /healthz, so fifty who ask ten times a second cost what one costs who asks once.
func TestTheShortAnswerIsWorkedOutOnceASecondHoweverManyAsk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		looked := 0
		j := &countedJournal{}
		p := &pulse{journal: j, inMemory: func(now time.Time) vitals.Report { looked++; return wellReport(now) }}
		var all sync.WaitGroup
		for range 50 {
			all.Go(func() {
				for range 50 {
					if lines, well := p.take(); !well || len(lines) != 3 {
						t.Errorf("%v %v", well, lines)
					}
					time.Sleep(100 * time.Millisecond)
				}
			})
		}
		all.Wait()
		if looked != 5 || j.asked != 5 {
			t.Errorf("in five seconds 2500 asked, the workers were looked at %d times and the journal %d times", looked, j.asked)
		}
	})
}

// A journal that does not come back makes the answer wait three seconds, not for ever, and it is not well.
func TestAJournalThatHangsIsNotWell(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		p := &pulse{journal: &countedJournal{takes: time.Hour}, inMemory: wellReport}
		lines, well := p.take()
		if well || vitals.Shortly(lines[:1]) != "journal: NOT WELL, gives no answer\n" || time.Since(began) != lookLasts {
			t.Errorf("after %v: %v %v", time.Since(began), well, lines)
		}
		p = &pulse{journal: &countedJournal{err: errors.New("closed")}, inMemory: wellReport}
		if _, well := p.take(); well {
			t.Error("a journal that answers with an error is well")
		}
	})
}

// What the short answer looks at lies in memory: it works on a daemon that has no journal and whose way out has no outbox, either
// of which would end the program if it were touched.
func TestTheShortAnswerTouchesNeitherRecordNorOutbox(t *testing.T) {
	d := &Daemon{cfg: Config{Now: time.Now, Log: slog.New(slog.DiscardHandler)}, garden: &garden.Garden{}, boxes: []*outbox{nil}}
	d.faring.began = time.Now()
	d.faring.roster = []worker{{name: "walker", beat: time.Now, limit: time.Minute}}
	j := &countedJournal{}
	lines, well := (&pulse{journal: j, inMemory: d.memory}).take()
	if !well || len(lines) != 4 || lines[0].Name != "walker" || j.asked != 1 {
		t.Errorf("%v %v, journal asked %d times", well, lines, j.asked)
	}
	defer func() {
		if recover() == nil {
			t.Error("the whole report does not touch them either, so this test shows nothing")
		}
	}()
	d.standing.Store(NewWalk().Standing())
	d.fares(t.Context())
}
