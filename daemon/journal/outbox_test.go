package journal

import (
	"context"
	"errors"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
)

func next(t *testing.T, o push.Outbox) push.Letter {
	t.Helper()
	ctx, cancel := context.WithTimeout(bg, 5*time.Second)
	defer cancel()
	l, err := o.Next(ctx)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func recordChanges(t *testing.T, j *Journal, cs ...alerts.Change) {
	t.Helper()
	if err := j.Record(bg, cs); err != nil {
		t.Fatal(err)
	}
}

func TestAnOutboxHandsOutInOrderAndMovesOnlyWhenDone(t *testing.T) {
	path := filepath.Join(dir(t), "test.journal")
	o := Options{Now: func() time.Time { return t0 }}
	j := open(t, path, o)
	recordChanges(t, j, change(1, "before anybody listened", time.Time{}))
	box := j.Outbox("mail")
	recordChanges(t, j, change(2, "two", time.Time{}), change(3, "three", time.Time{}))
	first := next(t, box)
	if first.Change.Text != "two" || next(t, box).Change.Text != "two" {
		t.Fatalf("handed out %q: a new way starts at now, and a letter stays until it is done", first.Change.Text)
	}
	if err := box.Done(bg, first.Seq); err != nil {
		t.Fatal(err)
	}
	if l := next(t, box); l.Change.Text != "three" {
		t.Fatalf("handed out %q", l.Change.Text)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	j = open(t, path, o)
	if l := next(t, j.Outbox("mail")); l.Change.Text != "three" {
		t.Fatalf("after a restart: %q", l.Change.Text)
	}
	if l, ok, err := j.Outbox("post").(*outbox).pick(bg); ok || err != nil {
		t.Fatalf("a way added later is handed the past: %+v, %v", l, err)
	}
}

func TestAMessageWhoseTimeHasPassedIsNotSentButToldOf(t *testing.T) {
	path := filepath.Join(dir(t), "test.journal")
	now := t0
	o := Options{Now: func() time.Time { return now }}
	j := open(t, path, o)
	box := j.Outbox("mail")
	recordChanges(t, j, change(1, "tonight: bring D7 in", t0.Add(12*time.Hour)), change(2, "", t0.Add(time.Hour)), change(3, "this week: water D9", t0.Add(7*24*time.Hour)))
	now = t0.Add(24 * time.Hour)
	fact := next(t, box)
	if fact.Change.Key != "k002" {
		t.Fatalf("handed out %q: a change without text states a fact and does not go stale", fact.Change.Key)
	}
	same(t, "expired", fact.Expired, []string{"tonight: bring D7 in"})
	if n, _, _ := j.c.number("select count(*) from expired where way = 'mail'"); n != 1 {
		t.Errorf("%d rows are marked expired, want 1", n)
	}
	_ = j.Close()
	j = open(t, path, o)
	box = j.Outbox("mail")
	if l := next(t, box); len(l.Expired) != 1 || l.Change.Key != "k002" {
		t.Fatalf("after a restart: %+v", l)
	}
	_ = box.Done(bg, fact.Seq)
	if l := next(t, box); l.Change.Key != "k003" || len(l.Expired) != 0 {
		t.Fatalf("then %+v: what was told once is not told again", l)
	}
}

func TestAWayWaitsAndIsWoken(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		j := fresh(t)
		box := j.Outbox("mqtt")
		got := make(chan string, 1)
		go func() {
			l, err := box.Next(t.Context())
			if err != nil {
				t.Error(err)
			}
			got <- l.Change.Text
		}()
		synctest.Wait()
		if err := j.Keep(bg, round(t0, 2), []alerts.Change{change(1, "now", time.Time{})}); err != nil {
			t.Fatal(err)
		}
		if s := <-got; s != "now" {
			t.Errorf("got %q", s)
		}
		if err := box.Done(bg, 1); err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(bg, time.Hour)
		defer cancel()
		if _, err := box.Next(ctx); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("an empty outbox gave %v", err)
		}
	})
}
