package push

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"
	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
)

// queue is the smallest outbox: letters with an end to their time, and a mark.
type queue struct {
	letters []alerts.Change
	mark    int
	late    []string
	broken  int // so many answers are errors
}

func (q *queue) Next(ctx context.Context) (Letter, error) {
	if q.broken > 0 {
		q.broken--
		return Letter{}, errors.New("disk I/O error")
	}
	for ; q.mark < len(q.letters); q.mark++ {
		c := q.letters[q.mark]
		if c.Until.IsZero() || time.Now().Before(c.Until) {
			return Letter{Seq: int64(q.mark), Change: c, Expired: slices.Clone(q.late)}, nil
		}
		q.late = append(q.late, c.Text)
	}
	<-ctx.Done()
	return Letter{}, ctx.Err()
}

func (q *queue) Done(_ context.Context, seq int64) error {
	if q.broken > 0 {
		q.broken--
		return errors.New("disk I/O error")
	}
	q.mark, q.late = int(seq)+1, nil
	return nil
}

func letters(texts ...string) (cs []alerts.Change) {
	for _, t := range texts {
		cs = append(cs, alerts.Change{Key: t, Text: t, Kind: "water", Rank: alerts.Week, State: alerts.Said})
	}
	return cs
}

// deliverFor runs a delivery for some (bubble) time and reports when each try was made.
func deliverFor(t *testing.T, d *delivery, span time.Duration, answer func(try int, l Letter) error) (tries []string) {
	t.Helper()
	begin := time.Now()
	d.send = func(_ context.Context, l Letter) error {
		tries = append(tries, fmt.Sprintf("%s %s", time.Since(begin), l.Change.Key))
		return answer(len(tries), l)
	}
	ctx, cancel := context.WithTimeout(t.Context(), span)
	defer cancel()
	if err := d.run(ctx); err != context.DeadlineExceeded {
		t.Errorf("run ended with %v", err)
	}
	return tries
}

func TestPatienceGrowsFromFiveSecondsToHalfAnHour(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &delivery{env: Env{Outbox: &queue{letters: letters("a", "b")}}.withDefaults(), where: "host"}
		got := deliverFor(t, d, 4*time.Hour, func(try int, _ Letter) error {
			if try == 12 || try > 13 {
				return nil
			}
			return errors.New("no route to host")
		})
		want := []string{"0s a", "5s a", "15s a", "35s a", "1m15s a", "2m35s a", "5m15s a", "10m35s a", "21m15s a", "42m35s a", "1h12m35s a", "1h42m35s a",
			"1h42m35s b", "1h42m40s b"} // taken at last: patience begins anew
		if diff := cmp.Diff(want, got); diff != "" {
			t.Error(diff)
		}
	})
}

func TestTheOtherSideMayAskForMorePatience(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &delivery{env: Env{Outbox: &queue{letters: letters("a")}}.withDefaults()}
		got := deliverFor(t, d, 5*time.Hour, func(try int, _ Letter) error {
			switch try {
			case 1:
				return &failure{err: errors.New("busy"), after: 2 * time.Minute}
			case 2:
				return &failure{err: errors.New("busy"), after: 48 * time.Hour} // more than we have
			}
			return nil
		})
		if diff := cmp.Diff([]string{"0s a", "2m0s a", "32m0s a"}, got); diff != "" {
			t.Error(diff)
		}
	})
}

func TestARefusedLetterIsSetAsideAndTheNextGoesOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var told []string
		env := Env{Outbox: &queue{letters: letters("bad", "good")}, Trouble: func(kind, text string) { told = append(told, kind+": "+text) }}.withDefaults()
		got := deliverFor(t, &delivery{env: env, where: "host"}, time.Hour, func(_ int, l Letter) error {
			if l.Change.Key == "bad" {
				return refused(errors.New("answered 400 Bad Request"))
			}
			return nil
		})
		if diff := cmp.Diff([]string{"0s bad", "5s bad", "15s bad", "35s bad", "1m15s bad", "1m15s good"}, got); diff != "" {
			t.Error(diff)
		}
		if diff := cmp.Diff([]string{"refused: host refused a message five times, it was set aside: answered 400 Bad Request: bad"}, told); diff != "" {
			t.Error(diff)
		}
	})
}

// What ran out while the other side was away is not sent; the next message says so.
func TestWhatRanOutWhileWaitingIsNotSent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ls := letters("Cover the table tonight.", "Water D7.")
		ls[0].Until = time.Now().Add(20 * time.Second)
		var said string
		d := &delivery{env: Env{Outbox: &queue{letters: ls}}.withDefaults()}
		got := deliverFor(t, d, time.Hour, func(_ int, l Letter) error {
			if l.Change.Key != "Water D7." {
				return errors.New("no route to host")
			}
			said = l.Says()
			return nil
		})
		if diff := cmp.Diff([]string{"0s Cover the table tonight.", "5s Cover the table tonight.", "15s Cover the table tonight.", "35s Water D7."}, got); diff != "" {
			t.Error(diff)
		}
		if said != "Not sent in time: Cover the table tonight.\nWater D7." {
			t.Errorf("said %q", said)
		}
	})
}

func TestSilenceIsToldOnceAndTakenBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var told []string
		begin := time.Now()
		env := Env{Outbox: &queue{letters: letters("a")}, Trouble: func(kind, text string) {
			told = append(told, fmt.Sprintf("%s %s %t", time.Since(begin), kind, text != ""))
		}}.withDefaults()
		deliverFor(t, &delivery{env: env}, 3*time.Hour, func(try int, _ Letter) error {
			if time.Since(begin) < time.Hour {
				return errors.New("no route to host")
			}
			return nil
		})
		if diff := cmp.Diff([]string{"21m15s broker-silent true", "1h12m35s broker-silent false"}, told); diff != "" {
			t.Error(diff)
		}
	})
}

func TestAJournalThatFailsForAWhileCostsNoMessage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q := &queue{letters: letters("a", "b"), broken: 2}
		got := deliverFor(t, &delivery{env: Env{Outbox: q}.withDefaults()}, time.Hour, func(try int, _ Letter) error {
			if try == 1 {
				q.broken = 2 // now the mark cannot be moved
			}
			return nil
		})
		if diff := cmp.Diff([]string{"15s a", "30s b"}, got); diff != "" {
			t.Error(diff)
		}
	})
}

func TestADigestLineIsNotSentAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ls := letters("Feed the table.", "This week: feed the table.")
		ls[0].To = "digest"
		q := &queue{letters: ls}
		got := deliverFor(t, &delivery{env: Env{Outbox: q}.withDefaults()}, time.Hour, func(int, Letter) error { return nil })
		if diff := cmp.Diff([]string{"0s This week: feed the table."}, got); diff != "" {
			t.Error(diff)
		}
		if q.mark != 2 {
			t.Errorf("the mark is at %d", q.mark)
		}
	})
}

func TestWhatTheKeeperIsToldOfTheBroker(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begin := time.Now()
		var told []string
		w := newWatch(Env{Trouble: func(kind, text string) {
			told = append(told, fmt.Sprintf("%s %s %t", time.Since(begin).Round(time.Second), kind, text != ""))
		}}.withDefaults(), "mqtt://host")
		for range 20 { // away for a quarter of an hour and more
			w.failed(errors.New("connection refused"))
			time.Sleep(time.Minute)
		}
		w.up()
		time.Sleep(time.Hour)
		for range 5 { // taken away four times in a row
			w.lost(errors.New("EOF"))
			time.Sleep(time.Second)
			w.up()
			time.Sleep(time.Second)
		}
		time.Sleep(2 * time.Minute)
		w.lost(errors.New("EOF")) // one connection has stood meanwhile
		w.failed(fmt.Errorf("%w", packets.ErrorRefusedNotAuthorised))
		w.failed(fmt.Errorf("%w", packets.ErrorRefusedNotAuthorised))
		w.up()
		want := []string{"15m0s broker-silent true", "20m0s broker-silent false", "1h20m8s id-in-use true", "1h22m10s id-in-use false",
			"1h22m10s wrong-password true", "1h22m10s wrong-password false"}
		if diff := cmp.Diff(want, told); diff != "" {
			t.Error(diff)
		}
	})
}

func TestClientIDIsTheMachinesOwnAndStays(t *testing.T) {
	a, b := clientID("elderbank", ""), clientID("elderbank", "")
	if a != b || !strings.HasPrefix(a, "lathwatch-elderbank-") || len(a) != len("lathwatch-elderbank-")+8 {
		t.Errorf("%q, then %q", a, b)
	}
	if clientID("elderbank", "x") == a {
		t.Error("another machine has the same client id")
	}
}

func TestTimesIsWordForEveryNumberUsed(t *testing.T) {
	if times(maxTries) == "" {
		t.Error("no word for the number of tries")
	}
}
