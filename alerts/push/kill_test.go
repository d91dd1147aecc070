package push_test

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
	"lathwatch/alerts/broker"
	"lathwatch/alerts/push"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// childEnv makes the test binary play a daemon that can be killed: "broker address or listen address|mark file|letters".
const childEnv = "LATHWATCH_PUSH_CHILD"

func TestMain(m *testing.M) {
	if args := os.Getenv(childEnv); args != "" {
		child(args)
		return
	}
	flag.Parse()
	_ = flag.Set("test.parallel", "8") // these tests wait for sockets and other programs rather than compute
	os.Exit(m.Run())
}

// fileOutbox keeps its mark in a file, as the journal keeps it in the store: moved only after the acknowledgement, in one step.
type fileOutbox struct {
	path string
	last int64
}

func (o *fileOutbox) Next(ctx context.Context) (push.Letter, error) {
	n := readMark(o.path)
	if n >= o.last {
		<-ctx.Done()
		return push.Letter{}, ctx.Err()
	}
	return push.Letter{Seq: n, Change: change(int(n))}, nil
}

func (o *fileOutbox) Done(_ context.Context, seq int64) error {
	tmp := o.path + ".new"
	if err := os.WriteFile(tmp, []byte(strconv.FormatInt(seq+1, 10)), 0o600); err != nil {
		return err
	}
	return os.Rename(tmp, o.path)
}

func readMark(path string) int64 {
	b, _ := os.ReadFile(path)
	n, _ := strconv.ParseInt(strings.TrimSpace(string(b)), 10, 64)
	return n
}

func child(args string) {
	part := strings.Split(args, "|")
	last, _ := strconv.ParseInt(part[2], 10, 64)
	st := lastState(int(last))
	env := push.Env{Site: site, Machine: "0123abcd", Outbox: &fileOutbox{part[1], last}, State: func() *alerts.Standing { return st }}
	body := fmt.Sprintf("broker = %q", part[0])
	if !strings.HasPrefix(part[0], "mqtt") { // the broker inside, on this address
		var b *broker.Broker
		var err error
		for range 100 {
			if b, err = broker.New(broker.Config{Broker: garden.Broker{Listen: part[0]}, Site: site}); err == nil {
				break
			}
			time.Sleep(10 * time.Millisecond)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		go b.Run(context.Background())
		env.Local, body = b, ""
	}
	w, _ := push.Named("mqtt")
	r, err := w.Open(table.Raw{Name: "mqtt", Path: "push mqtt", Line: 1, Body: body}, env)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	r.Run(context.Background())
}

// lastState is what the topics must hold in the end.
func lastState(n int) *alerts.Standing {
	return bed(noon.Add(time.Duration(n)*time.Minute), alerts.Alert{Kind: "water", Subject: "D7", Place: "table", Pots: []string{"D7"}, Rank: alerts.Week, Key: "k1", Since: noon, Text: "Water D7."})
}

// killed runs the child until the mark has reached last, killing it so many times in between.
func killed(t *testing.T, target, mark string, kills, letters int, between func(kill int)) {
	t.Helper()
	rnd := rand.New(rand.NewPCG(1, uint64(kills)))
	for n := range kills + 1 {
		last := letters * (n + 1) / (kills + 1)
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%s|%s|%d", childEnv, target, mark, last))
		cmd.Stderr = os.Stderr
		cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		end := time.Now().Add(30 * time.Second)
		stop := int64(last)
		if n < kills { // somewhere among this child's letters, so that it dies while publishing
			stop = readMark(mark) + 1 + rnd.Int64N(max(int64(last)-readMark(mark)-1, 1))
		}
		for readMark(mark) < stop {
			if time.Now().After(end) {
				cmd.Process.Kill()
				cmd.Wait()
				t.Fatalf("kill %d: the mark stands at %d and does not reach %d", n, readMark(mark), stop)
			}
			time.Sleep(time.Duration(rnd.IntN(400)) * time.Microsecond)
		}
		if n == kills {
			time.Sleep(300 * time.Millisecond) // the states have been sent by now
			t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
			return
		}
		cmd.Process.Kill()
		cmd.Wait()
		if between != nil {
			between(n)
		}
	}
}

func long() bool { return os.Getenv("LATHWATCH_LONG") == "1" }

// The daemon is killed while it publishes, again and again: the broker outside has every message in the end, in order, repeats
// only under the same key, and the topics hold what they should.
func TestKilledWhilePublishingToAnOutsideBroker(t *testing.T) {
	t.Parallel()
	kills, letters := 8, 400
	if long() {
		kills, letters = 200, 10000
	}
	m := newMosquitto(t, "").start()
	r := newReader(t, m.address(), readerOpts{id: "phone", persistent: true, filters: []string{topics.Message()}})
	mark := filepath.Join(t.TempDir(), "mark")
	killed(t, m.address(), mark, kills, letters, nil)
	eventually(t, 30*time.Second, "the last message did not arrive", func() bool {
		p := r.on(topics.Message())
		return len(p) >= letters && strings.Contains(p[len(p)-1], change(letters-1).Key)
	})
	all := keys(t, r.on(topics.Message()))
	if d := cmp.Diff(wantKeys(0, letters), first(all)); d != "" {
		t.Error(d)
	}
	if !slices.IsSorted(all) {
		t.Error("messages came out of order")
	}
	checkStates(t, m.address(), letters)
	t.Logf("%d kills, %d messages: 0 lost, %d repeats", kills, letters, len(all)-letters)
}

func checkStates(t *testing.T, address string, letters int) {
	t.Helper()
	st := lastState(letters)
	wantRetained(t, address, readerOpts{}, map[string]string{topics.Status(): "online", topics.Pot("D7"): string(alerts.PotState(st, 0)),
		topics.Alert("water", "D7"): string(alerts.AlertState(st.Alerts[0]))})
}

// The broker is killed as well. What it had acknowledged and lost is its own affair: it is counted, not asserted.
func TestBrokerAndDaemonKilled(t *testing.T) {
	t.Parallel()
	kills, letters := 4, 200
	if long() {
		kills, letters = 40, 4000
	}
	m := newMosquitto(t, "").start()
	r := newReader(t, m.address(), readerOpts{id: "phone", persistent: true, filters: []string{topics.Message()}})
	mark := filepath.Join(t.TempDir(), "mark")
	killed(t, m.address(), mark, kills, letters, func(n int) {
		if n%2 == 0 {
			m.cmd.Process.Kill()
			m.cmd.Wait()
			m.start()
		}
	})
	if n := readMark(mark); n != int64(letters) {
		t.Errorf("the mark stands at %d", n)
	}
	time.Sleep(time.Second)
	all := keys(t, r.on(topics.Message()))
	if once := first(all); !slices.IsSorted(once) {
		t.Error("messages came out of order")
	}
	checkStates(t, m.address(), letters)
	t.Logf("%d daemon and %d broker kills, %d messages: %d lost by the broker after its acknowledgement, %d repeats", kills, (kills+1)/2, letters, letters-len(first(all)), len(all)-len(first(all)))
}

// With the broker inside, a kill takes both. Its promise is the state, always; messages to a reader that is away are not kept.
func TestKilledWithTheBrokerInside(t *testing.T) {
	t.Parallel()
	kills, letters := 4, 200
	if long() {
		kills, letters = 200, 10000
	}
	addr := fmt.Sprintf("127.0.0.1:%d", freePort(t))
	mark := filepath.Join(t.TempDir(), "mark")
	killed(t, addr, mark, kills, letters, nil)
	if n := readMark(mark); n != int64(letters) {
		t.Errorf("the mark stands at %d", n)
	}
	checkStates(t, "mqtt://"+addr, letters)
}
