package push_test

import (
	"bufio"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// otherReader is a subscriber that is none of our code: every line is whether the message was retained, its topic and payload.
func otherReader(t *testing.T, m *mosquitto, args ...string) (lines func() []string) {
	t.Helper()
	bin, err := exec.LookPath("mosquitto_sub")
	if err != nil {
		if os.Getenv("LATHWATCH_REQUIRE") == "1" {
			t.Fatal("mosquitto_sub is not installed, and LATHWATCH_REQUIRE=1 asks for it")
		}
		t.Skip("mosquitto_sub is not installed")
	}
	cmd := exec.Command(bin, append([]string{"-h", "127.0.0.1", "-p", fmt.Sprint(m.port), "-q", "1", "-t", "lathwatch/#", "-F", "%r %t %p"}, args...)...)
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	var mu sync.Mutex
	var all []string
	go func() { // ends with the process
		for s := bufio.NewScanner(out); s.Scan(); {
			mu.Lock()
			all = append(all, s.Text())
			mu.Unlock()
		}
	}()
	return func() []string {
		mu.Lock()
		defer mu.Unlock()
		return slices.Clone(all)
	}
}

// TestTwoHundredNodesShareARealBroker: 200 sites, each with its pot, an alert, two messages and a round of readings, into one broker. A
// subscriber that was there all along has every message once and in its site's order, one that comes later finds exactly the states.
func TestTwoHundredNodesShareARealBroker(t *testing.T) {
	t.Parallel()
	const nodes = 200
	m := newMosquitto(t, "").start()
	watch := otherReader(t, m)
	eventually(t, 10*time.Second, "the subscriber is not there", func() bool { // it has no way of saying so: a message tells
		r := newReader(t, m.address(), readerOpts{id: "knock"})
		r.c.Publish("lathwatch/knock", 1, false, "x").WaitTimeout(time.Second)
		r.c.Disconnect(10)
		time.Sleep(50 * time.Millisecond)
		return len(watch()) > 0
	})
	var boxes []*outbox
	var updates []chan push.Update
	wantState, wantMessages := map[string]bool{}, map[string][]string{}
	for n := range nodes {
		id := fmt.Sprintf("site-%03d", n)
		at := push.Topics{Site: id}
		st := bed(noon, alerts.Alert{Kind: "frost-tonight", Subject: "table", Place: "table", Rank: alerts.Tonight, Key: "k" + id, Since: noon, Text: "Cover the table tonight."})
		box := newOutbox()
		for k := range 2 {
			c := change(k)
			c.Key = fmt.Sprintf("%s-%d", id, k)
			box.add(c)
			wantMessages[at.Message()] = append(wantMessages[at.Message()], c.Key)
		}
		boxes, updates = append(boxes, box), append(updates, make(chan push.Update, 1))
		for _, topic := range []string{at.Status(), at.About(), at.Pot("D7"), at.Alert("frost-tonight", "table")} {
			wantState[topic] = true
		}
		start(t, open(t, "mqtt", `broker = "`+m.address()+`"`, push.Env{Site: id, Machine: id, Outbox: box, Retained: newKept(), State: func() *alerts.Standing { return st }, Updates: updates[n]}))
	}
	for n := range nodes {
		eventually(t, 60*time.Second, fmt.Sprintf("node %d did not get its messages out", n), func() bool { return boxes[n].done() == 2 })
		round := sensors.Round{At: noon, Readings: []sensors.Reading{{Probe: "d7-t", Raw: int64(n), Step: units.Whole(units.Temperature)}}}
		updates[n] <- push.Update{Round: &round, Standing: bed(noon)}
	}
	var messages map[string][]string
	var readings map[string]int
	// Readings are sent without a receipt (quality of service 0) and overtake messages that wait for the reader's.
	eventually(t, 60*time.Second, "the readings and messages of every node did not arrive", func() bool {
		messages, readings = map[string][]string{}, map[string]int{}
		n := 0
		for _, line := range watch() {
			f := strings.SplitN(line, " ", 3)
			switch {
			case strings.HasSuffix(f[1], "/message"):
				messages[f[1]] = append(messages[f[1]], keys(t, f[2:])...)
				n++
			case strings.Contains(f[1], "/reading/"):
				readings[f[1]]++
			}
		}
		return len(readings) == nodes && n >= 2*nodes
	})
	if d := cmp.Diff(wantMessages, messages); d != "" {
		t.Error(d)
	}
	for n := range nodes {
		if topic := (push.Topics{Site: fmt.Sprintf("site-%03d", n)}).Reading("d7-t"); readings[topic] != 1 {
			t.Errorf("%s has %d readings", topic, readings[topic])
		}
	}
	for n := range nodes { // the alert is over with the update's standing
		delete(wantState, push.Topics{Site: fmt.Sprintf("site-%03d", n)}.Alert("frost-tonight", "table"))
	}
	var have map[string]bool
	for range 20 {
		late := otherReader(t, m, "--retained-only", "-W", "2")
		time.Sleep(2200 * time.Millisecond)
		have = map[string]bool{}
		for _, line := range late() {
			f := strings.SplitN(line, " ", 3)
			have[f[1]] = true
			if strings.HasSuffix(f[1], "/status") && f[2] != "online" {
				t.Errorf("%s is %s", f[1], f[2])
			}
		}
		if maps.Equal(have, wantState) {
			break
		}
	}
	if d := cmp.Diff(wantState, have); d != "" {
		t.Error(d)
	}
}
