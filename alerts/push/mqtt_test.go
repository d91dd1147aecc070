package push_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
)

var topics = push.Topics{Site: site}

func keys(t testing.TB, payloads []string) (ks []string) {
	t.Helper()
	for _, p := range payloads {
		var m struct{ Key string }
		if err := json.Unmarshal([]byte(p), &m); err != nil {
			t.Fatalf("payload %q: %v", p, err)
		}
		ks = append(ks, m.Key)
	}
	return ks
}

// first drops repeats, as a receiver would by the key.
func first(ks []string) (once []string) {
	seen := map[string]bool{}
	for _, k := range ks {
		if !seen[k] {
			once = append(once, k)
		}
		seen[k] = true
	}
	return once
}

func wantKeys(from, to int) (ks []string) {
	for i := from; i < to; i++ {
		ks = append(ks, change(i).Key)
	}
	return ks
}

func TestMessagesReachAReaderInOrder(t *testing.T) {
	t.Parallel()
	m := newMosquitto(t, "").start()
	r := newReader(t, m.address(), readerOpts{id: "phone"})
	box := newOutbox()
	box.add(change(0), change(1), change(2))
	start(t, open(t, "mqtt", `broker = "`+m.address()+`"`, push.Env{Outbox: box, Retained: newKept()}))
	eventually(t, 10*time.Second, "the outbox was not emptied", func() bool { return box.done() == 3 })
	eventually(t, 5*time.Second, "not all arrived", func() bool { return len(r.on(topics.Message())) == 3 })
	if d := cmp.Diff(wantKeys(0, 3), keys(t, r.on(topics.Message()))); d != "" {
		t.Error(d)
	}
	want := `{"at":"2027-01-26T12:00:00Z","kind":"water-light","rank":"week","place":"table","pots":["D7"],"key":"k00000","text":"Water D7 on the table lightly (0).","state":"said","subject":"D7","to":null,"until":null}`
	if d := cmp.Diff(want, r.on(topics.Message())[0]); d != "" {
		t.Error(d)
	}
}

// The broker stops and starts, the daemon stops and starts, a reader with a persistent session is away meanwhile: nothing
// unexpired is lost, order holds, and repeats carry the same key.
func TestNothingUnexpiredIsLostWhenBrokerAndDaemonRestart(t *testing.T) {
	t.Parallel()
	m := newMosquitto(t, "").start()
	body := `broker = "` + m.address() + `"`
	phone := readerOpts{id: "phone", persistent: true, filters: []string{topics.Message()}}
	r := newReader(t, m.address(), phone)
	box, mem := newOutbox(), newKept()
	env := push.Env{Outbox: box, Retained: mem}
	stop := start(t, open(t, "mqtt", body, env))
	box.add(change(0), change(1))
	eventually(t, 10*time.Second, "first two", func() bool { return box.done() == 2 })

	m.stop() // broker away, the daemon goes on
	gone := change(2)
	gone.Until = time.Now().Add(-time.Second)
	box.add(gone, change(3))
	time.Sleep(200 * time.Millisecond)
	if n := box.done(); n > 3 { // the expired one may be passed over
		t.Fatalf("with the broker away the mark moved to %d", n)
	}
	stop() // daemon away
	box.add(change(4))
	r.c.Disconnect(50) // the phone away
	early := r.on(topics.Message())
	m.start()
	start(t, open(t, "mqtt", body, env))
	eventually(t, 15*time.Second, "the outbox was not emptied after the restarts", func() bool { return box.done() == 5 })
	m.stop()
	m.start() // the broker once more, before the phone is back
	box.add(change(5))
	r = newReader(t, m.address(), phone)
	eventually(t, 15*time.Second, "the last message did not arrive", func() bool {
		p := r.on(topics.Message())
		return len(p) > 0 && keys(t, p)[len(p)-1] == change(5).Key
	})
	all := append(early, r.on(topics.Message())...)
	want := append(wantKeys(0, 2), wantKeys(3, 6)...)
	if d := cmp.Diff(want, first(keys(t, all))); d != "" {
		t.Error(d)
	}
	for _, p := range all {
		if strings.Contains(p, change(3).Key) && !strings.Contains(p, "Not sent in time: "+gone.Text) {
			t.Errorf("the first message after the outage does not say what expired: %s", p)
		}
	}
	if d := cmp.Diff([]string{gone.Key}, box.expired); d != "" {
		t.Error(d)
	}
}

func TestAlertTopicsFollowTheStanding(t *testing.T) {
	t.Parallel()
	m := newMosquitto(t, "").start()
	body := `broker = "` + m.address() + `"`
	box, mem := newOutbox(), newKept()
	st := bed(noon, alerts.Alert{Kind: "frost-tonight", Subject: "table", Place: "table", Rank: alerts.Tonight, Key: "k1", Since: noon, Text: "Cover the table tonight."})
	updates := make(chan push.Update, 1)
	env := push.Env{Outbox: box, Retained: mem, State: func() *alerts.Standing { return st }, Updates: updates}
	stop := start(t, open(t, "mqtt", body, env))
	frost := topics.Alert("frost-tonight", "table")
	wantAlert := `{"key":"k1","kind":"frost-tonight","subject":"table","rank":"tonight","state":"raised","place":"table","pots":[],"since":"2027-01-26T12:00:00Z","text":"Cover the table tonight.","seen":false,"later":null}`
	eventually(t, 10*time.Second, "the alert is not retained", func() bool { return retainedNow(t, m.address(), readerOpts{})[frost] == wantAlert })

	// The daemon is away while the alert ends, and so is the broker's memory of everything but retained topics.
	stop()
	wantRetained(t, m.address(), readerOpts{}, map[string]string{topics.Status(): "offline", frost: wantAlert, topics.Pot("D7"): string(alerts.PotState(st, 0))})
	later := bed(noon.Add(time.Hour))
	env.State = func() *alerts.Standing { return later }
	start(t, open(t, "mqtt", body, env))
	eventually(t, 10*time.Second, "the stale alert is still retained", func() bool {
		now := retainedNow(t, m.address(), readerOpts{})
		_, there := now[frost]
		return !there && now[topics.Status()] == "online"
	})
	eventually(t, 5*time.Second, "the journal still remembers the emptied topic", func() bool {
		all, _ := mem.Retained(t.Context())
		return !slices.ContainsFunc(all, func(k push.Kept) bool { return k.Topic == frost })
	})
	wantRetained(t, m.address(), readerOpts{}, map[string]string{topics.Status(): "online", topics.Pot("D7"): string(alerts.PotState(later, 0))})
}

func TestAnAlertIsClearedAfterItsLastMessage(t *testing.T) {
	t.Parallel()
	m := newMosquitto(t, "").start()
	box, mem := newOutbox(), newKept()
	st := bed(noon)
	start(t, open(t, "mqtt", `broker = "`+m.address()+`"`, push.Env{Outbox: box, Retained: mem, State: func() *alerts.Standing { return st }}))
	eventually(t, 10*time.Second, "not online", func() bool { return retainedNow(t, m.address(), readerOpts{})[topics.Status()] == "online" })
	r := newReader(t, m.address(), readerOpts{id: "watch", filters: []string{"lathwatch/" + site + "/alert/#", topics.Message()}})
	up := change(1)
	up.State, up.Kind, up.Subject = alerts.Raised, "water", "D7"
	over := up
	over.Key, over.State, over.Text, over.At = "k2", alerts.Cleared, "D7 is watered.", up.At.Add(time.Hour)
	box.add(up, over)
	alert := topics.Alert("water", "D7")
	eventually(t, 10*time.Second, "the alert was not emptied", func() bool { p := r.on(alert); return len(p) > 0 && p[len(p)-1] == "" })
	var order []string
	for _, g := range r.all() {
		switch {
		case g.topic == topics.Message():
			order = append(order, "message "+keys(t, []string{g.payload})[0])
		case g.payload == "":
			order = append(order, "emptied")
		default:
			var a struct{ State string }
			_ = json.Unmarshal([]byte(g.payload), &a)
			order = append(order, "alert "+a.State)
		}
	}
	if d := cmp.Diff([]string{"alert raised", "message k00001", "message k2", "alert cleared", "emptied"}, order); d != "" {
		t.Error(d)
	}
}
