package daemon

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon/journal"
	"lathwatch/sensors"
)

// While the journal cannot be written its messages go out from memory, once: when it can be written again and has them too,
// they are passed over, and what comes after follows in order.
func TestAFullCardDoesNotSilenceAWarning(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	j, err := journal.Open(filepath.Join(t.TempDir(), "one.journal"), journal.Options{Now: func() time.Time { return time.Date(2026, 12, 3, 10, 0, 0, 0, time.UTC) }})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	change := func(n int) alerts.Change {
		at := time.Date(2026, 12, 3, 10, n, 0, 0, time.UTC)
		return alerts.Change{Key: fmt.Sprint("k", n), At: at, Kind: "frost-tonight", Rank: alerts.Tonight, State: alerts.Said, Subject: "D7", Text: fmt.Sprint("message ", n), Until: at.Add(24 * time.Hour)}
	}
	keep := func(cs ...alerts.Change) {
		if err := j.Keep(ctx, sensors.Round{At: cs[0].At}, cs); err != nil {
			t.Fatal(err)
		}
	}
	o := newOutbox("mail", j.Outbox("mail"))
	var got []string
	next := func() {
		t.Helper()
		l, err := o.Next(ctx)
		if err != nil {
			t.Fatal(err)
		}
		again, err := o.Next(ctx)
		if err != nil || again.Seq != l.Seq {
			t.Fatalf("an unfinished letter %d was followed by %d, %v", l.Seq, again.Seq, err)
		}
		if err := o.Done(ctx, l.Seq); err != nil {
			t.Fatal(err)
		}
		got = append(got, l.Change.Text)
	}
	keep(change(1))
	next()
	waiting := make(chan struct{})
	go func() { // a way that already waits on the journal is woken by memory
		defer close(waiting)
		next()
	}()
	time.Sleep(50 * time.Millisecond)
	o.remember([]alerts.Change{change(2)})
	<-waiting
	o.remember([]alerts.Change{change(2), change(3)})
	next()
	keep(change(2), change(3), change(4))
	next()
	if want := "[message 1 message 2 message 3 message 4]"; fmt.Sprint(got) != want {
		t.Errorf("sent %v, want %s", got, want)
	}
}
