package daemon

import (
	"context"
	"errors"
	"log/slog"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon/journal"
)

// K8: signs of life only while every needed worker has beaten within its limit.
func TestAWorkerThatStoppedIsFound(t *testing.T) {
	t.Run("FieldLog/K8_fed_while_dead", func(t *testing.T) {
		began := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)
		var last, hung time.Time
		w := watch{began: began, patience: 15 * time.Minute, roster: []worker{{name: "page"},
			{name: "bus w1", beat: func() time.Time { return last }, limit: time.Minute, hung: func() time.Time { return hung }}}}
		for _, c := range []struct {
			what       string
			beat, hung time.Duration // after began; 0: none
			now        time.Duration
			want       string
		}{
			{"not late before its limit", 0, 0, 50 * time.Second, ""},
			{"it has beaten", 50 * time.Second, 0, 100 * time.Second, ""},
			{"silent for 61 s", 50 * time.Second, 0, 111 * time.Second, "bus w1 has given no sign of life for 1m1s"},
			{"a chip is out, within patience", 20 * time.Minute, 6 * time.Minute, 20 * time.Minute, ""},
			{"a chip is out for too long", 22 * time.Minute, 6 * time.Minute, 22 * time.Minute, "bus w1: a chip on it has not come back for 16m0s"},
		} {
			last, hung = time.Time{}, time.Time{}
			if c.beat > 0 {
				last = began.Add(c.beat)
			}
			if c.hung > 0 {
				hung = began.Add(c.hung)
			}
			ill, _ := w.look(began.Add(c.now))
			got := ""
			for _, f := range ill {
				got += f.why
			}
			if got != c.want {
				t.Errorf("%s: found %q, want %q", c.what, got, c.want)
			}
		}
	})
}

// watched is a daemon that does nothing but watch a roster.
type watched struct {
	*Daemon
	pings  int
	heard  []string
	ended  chan error
	cancel context.CancelFunc
}

func watching(t *testing.T, path string, roster []worker, every time.Duration) *watched {
	t.Helper()
	j, err := journal.Open(path, journal.Options{Ballast: -1})
	if err != nil {
		t.Fatal(err)
	}
	x := &watched{ended: make(chan error, 1)}
	x.Daemon = &Daemon{cfg: Config{Now: time.Now, Log: slog.New(slog.DiscardHandler), Version: "0.1.7"}, journal: j, trouble: map[string]string{}}
	x.boss = supervisor{every: every, send: func(s string) error {
		if strings.HasPrefix(s, "WATCHDOG=1") {
			x.pings++
		}
		x.heard = append(x.heard, s)
		return nil
	}}
	x.standing.Store(&alerts.Standing{})
	x.openBook(t.Context())
	ctx, cancel := context.WithCancel(t.Context())
	x.cancel = cancel
	go func() { // ends with cancel, or by itself
		err := x.watcher(roster)(ctx)
		if errors.Is(err, context.Canceled) {
			err = nil
		}
		x.closeBook(err)
		x.ended <- errors.Join(err, j.Close())
	}()
	return x
}

func (x *watched) over() error {
	select {
	case err := <-x.ended:
		return err
	default:
		return nil
	}
}

func (x *watched) said(kind string) string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.trouble[kind]
}

// K8, W14: a bus that hangs past its limit ends one run. The next one finds it hanging again, says so, and goes on for days; once
// the bus has been well for a day it may end a run again.
func TestAHungBusEndsOneRunAndNotTheNext(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lathwatch.journal")
	synctest.Test(t, func(t *testing.T) {
		var hung time.Time
		alive := func() time.Time { return time.Now() }
		roster := []worker{{name: "walker", beat: alive, limit: time.Minute},
			{name: "bus w1", beat: alive, limit: time.Minute, hung: func() time.Time { return hung }}}
		first := watching(t, path, roster, time.Minute)
		time.Sleep(time.Hour)
		synctest.Wait()
		if first.pings < 120 || first.said("hung bus w1") != "" {
			t.Errorf("a healthy hour: %d signs of life, %q", first.pings, first.said("hung bus w1"))
		}
		hung = time.Now()
		time.Sleep(14 * time.Minute)
		if synctest.Wait(); first.over() != nil {
			t.Fatal("gave up before the limit")
		}
		time.Sleep(2 * time.Minute)
		synctest.Wait()
		if err := first.over(); err == nil || !strings.Contains(err.Error(), "bus w1: a chip on it has not come back") {
			t.Fatalf("after 16 minutes: %v", err)
		}
		if last := first.heard[len(first.heard)-1]; !strings.HasPrefix(last, "STATUS=giving up: bus w1") {
			t.Errorf("the last words were %q", last)
		}
		hung = time.Now() // the next run's read hangs likewise
		second := watching(t, path, roster, time.Minute)
		if said := second.said("start"); !strings.Contains(said, "started anew after a hang: bus w1") {
			t.Errorf("the new run says %q", said)
		}
		time.Sleep(72 * time.Hour)
		synctest.Wait()
		if err := second.over(); err != nil || second.pings < 3*24*60*2 {
			t.Fatalf("the second run: %v, %d signs of life", err, second.pings)
		}
		if said := second.said("hung bus w1"); !strings.Contains(said, "hangs again after a new start") {
			t.Errorf("it says %q", said)
		}
		hung = time.Time{}
		time.Sleep(23 * time.Hour)
		synctest.Wait()
		if said := second.said("hung bus w1"); said != "" {
			t.Errorf("the bus is well and it says %q", said)
		}
		hung = time.Now() // not yet well for a day
		time.Sleep(time.Hour)
		hung = time.Time{}
		time.Sleep(25 * time.Hour)
		if synctest.Wait(); second.over() != nil {
			t.Fatal("gave up on a bus that had not been well for a day")
		}
		hung = time.Now()
		time.Sleep(16 * time.Minute)
		synctest.Wait()
		if err := second.over(); err == nil {
			t.Error("a bus that was well for a day and hangs anew was not given its one start")
		}
	})
}

func TestWithoutASupervisorAHungBusIsOnlyTold(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lathwatch.journal")
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		x := watching(t, path, []worker{{name: "bus w1", beat: time.Now, limit: time.Minute, hung: func() time.Time { return began }}}, 0)
		time.Sleep(24 * time.Hour)
		synctest.Wait()
		if err := x.over(); err != nil || !strings.Contains(x.said("hung bus w1"), "has not come back") {
			t.Errorf("%v, %q", err, x.said("hung bus w1"))
		}
		x.cancel()
		if err := <-x.ended; err != nil {
			t.Error(err)
		}
	})
}

// A walker that is stuck is nobody's excuse: without it nothing is judged, so every run that finds it so ends.
func TestAStuckWalkerEndsEveryRun(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lathwatch.journal")
	synctest.Test(t, func(t *testing.T) {
		for range 3 {
			x := watching(t, path, []worker{{name: "walker", beat: func() time.Time { return time.Time{} }, limit: time.Minute}}, time.Minute)
			time.Sleep(2 * time.Minute)
			synctest.Wait()
			if err := x.over(); err == nil {
				t.Fatal("it went on")
			}
		}
	})
}

// A loop of starts is worse than a bus that hangs: when the excuse cannot be written down, the run goes on.
func TestAJournalThatCannotBeWrittenEndsNoRun(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lathwatch.journal")
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		x := watching(t, path, []worker{{name: "bus w1", beat: time.Now, limit: time.Minute, hung: func() time.Time { return began }}}, time.Minute)
		synctest.Wait()
		_ = x.journal.Close()
		time.Sleep(24 * time.Hour)
		synctest.Wait()
		if err := x.over(); err != nil || x.pings < 1000 {
			t.Errorf("%v after %d signs of life", err, x.pings)
		}
		x.cancel()
		<-x.ended
	})
}
