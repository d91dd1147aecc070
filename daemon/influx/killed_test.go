package influx

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"lathwatch/daemon/journal"
	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

func TestMain(m *testing.M) {
	if path := os.Getenv("INFLUX_TEST_JOURNAL"); path != "" {
		if err := liveUntilKilled(path, os.Getenv("INFLUX_TEST_SERVER")); err != nil {
			fmt.Println("error", err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

const perDay = 288 // rounds of five minutes

// liveUntilKilled is a daemon in small: one journal, rounds kept an hour at a time, late readings now and then, and a forwarder beside
// it. It goes on where the journal ends and says what it has kept.
func liveUntilKilled(path, url string) error {
	j, err := journal.Open(path, journal.Options{Ballast: -1})
	if err != nil {
		return err
	}
	last, err := j.Newest(bg)
	if err != nil {
		return err
	}
	f := New(Settings{URL: url, Bucket: "garden/autogen", Node: "lane-end", Every: units.Span(5 * time.Millisecond)}, j, nil)
	var sent atomic.Int64
	go func() {
		for ; ; time.Sleep(2 * time.Millisecond) {
			if n := int64(f.Status().Sent); n > sent.Load() {
				sent.Store(n)
				fmt.Println("sent", n)
			}
		}
	}()
	go func() { _ = f.Run(bg) }()
	for n := int(last.Sub(t0)/(5*time.Minute)) + 1; ; n += 12 {
		if err := liveOneHour(j, n); err != nil {
			return err
		}
		fmt.Println("kept", n+11)
		time.Sleep(5 * time.Millisecond)
	}
}

func liveOneHour(j *journal.Journal, n int) error {
	ks := make([]journal.Kept, 12)
	for i := range ks {
		ks[i].Round = round(n + i)
	}
	if err := j.KeepAll(bg, ks); err != nil || n%60 >= 12 {
		return err
	}
	at := round(n).At.Add(-30*time.Hour + time.Minute) // into a day that is sealed and sent
	late := sensors.LateReading{At: at, Reading: sensors.Reading{Probe: "logger", Raw: int64(n), Step: sixteenth}}
	_, err := j.AddLate(bg, round(n+11).At, sensors.Late{Readings: []sensors.LateReading{late}})
	return err
}

// A child is a daemon in a process of its own.
type child struct {
	cmd  *exec.Cmd
	kept atomic.Int64 // newest round acknowledged
	sent atomic.Int64 // lines acknowledged by the server since its start
	said chan string  // what went wrong, closed when it has ended
}

func startChild(t *testing.T, path, url string) *child {
	t.Helper()
	c := &child{cmd: exec.Command(os.Args[0]), said: make(chan string, 1)}
	c.cmd.Env = append(os.Environ(), "INFLUX_TEST_JOURNAL="+path, "INFLUX_TEST_SERVER="+url)
	c.cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	out, err := c.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go c.listen(bufio.NewScanner(out))
	return c
}

func (c *child) listen(sc *bufio.Scanner) {
	defer close(c.said)
	for sc.Scan() {
		what, number, _ := strings.Cut(sc.Text(), " ")
		n, err := strconv.ParseInt(number, 10, 64)
		switch {
		case err != nil:
			c.said <- sc.Text()
		case what == "kept":
			c.kept.Store(n)
		default:
			c.sent.Store(n)
		}
	}
}

// forwards waits until the server has acknowledged something to this child.
func (c *child) forwards(t *testing.T) {
	t.Helper()
	before := c.sent.Load()
	for range 6000 {
		if c.sent.Load() > before {
			return
		}
		select {
		case said := <-c.said:
			t.Fatalf("the daemon ended: %s", said)
		case <-time.After(5 * time.Millisecond):
		}
	}
	t.Fatal("nothing was forwarded for half a minute")
}

func (c *child) kill(t *testing.T) {
	t.Helper()
	_ = c.cmd.Process.Kill()
	for said := range c.said {
		t.Error(said)
	}
	_ = c.cmd.Wait()
}

// Ninety days: the first of them while the server was not there at all, the rest while it and the daemon die in turn.
func TestARealServerHasExactlyWhatTheJournalHasHoweverBothWereKilled(t *testing.T) {
	r := realServer(t)
	server := r.cmd.Path
	kills, outage := 8, 20*perDay
	if os.Getenv("LATHWATCH_LONG") == "1" {
		kills, outage = 60, 90*perDay
	}
	j := filled(t, outage)
	path := j.Path()
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 4))
	kept, servers := int64(outage-1), 0
	for n := range kills {
		c := startChild(t, path, "http://"+r.addr)
		if n > 0 { // the first is killed in the middle of the long catch-up
			c.forwards(t)
		}
		time.Sleep(time.Duration(rng.IntN(120)) * time.Millisecond)
		if n%2 == 1 { // the server goes first; every fourth time it comes back to a daemon that has waited for it
			servers++
			r.kill()
			time.Sleep(time.Duration(rng.IntN(60)) * time.Millisecond)
			if n%8 == 7 {
				r.start(server)
				c.forwards(t)
				time.Sleep(time.Duration(rng.IntN(40)) * time.Millisecond)
			}
		}
		c.kill(t)
		kept = max(kept, c.kept.Load())
		if r.cmd.ProcessState != nil {
			r.start(server)
		}
	}
	j, err := journal.Open(path, journal.Options{Ballast: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	if err := New(r.settings(), j, nil).round(bg); err != nil {
		t.Fatal(err)
	}
	rows := r.mustHave(t, j, kept)
	t.Logf("%d kills of the daemon, %d of the server, %d rounds acknowledged, %d readings by query", kills, servers, kept+1, rows)
}

// mustHave holds the server's counts and sums against the journal's own entries, probe by probe.
func (r *real) mustHave(t *testing.T, j *journal.Journal, acknowledged int64) (readings int) {
	t.Helper()
	n, faults, sum := map[string]int{}, 0, map[string]float64{}
	newest := t0
	for e, err := range j.Entries(bg, time.Time{}, time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		for _, rd := range e.Round.Readings {
			n[string(rd.Probe)]++
			sum[string(rd.Probe)] += value(&rd)
		}
		faults += len(e.Round.Faults)
		newest = e.At
	}
	if last := t0.Add(time.Duration(acknowledged) * 5 * time.Minute); newest.Before(last) {
		t.Errorf("the journal ends at %v, and %v was acknowledged", newest, last)
	}
	for _, probe := range []string{"p0", "p1", "p2", "p3", "p4", "logger"} {
		row := r.query(fmt.Sprintf(`select count(value), sum(value) from temperature where probe = '%s'`, probe))
		if row == nil || row[1].(float64) != float64(n[probe]) || !near(row[2].(float64), sum[probe]) {
			t.Errorf("%s: the server has %v, the journal %d readings with the sum %f", probe, row, n[probe], sum[probe])
		}
		readings += n[probe]
	}
	if row := r.query(`select count(value) from temperature`); row == nil || row[1].(float64) != float64(readings) {
		t.Errorf("the server has %v readings, the journal %d", row, readings)
	}
	if row := r.query(`select count(kind) from fault`); row == nil || row[1].(float64) != float64(faults) {
		t.Errorf("faults: %v, want %d", row, faults)
	}
	return readings
}

func near(a, b float64) bool { return a-b < 1e-9*b && b-a < 1e-9*b }

func TestTwoHundredNodesShareARealServer(t *testing.T) {
	r := realServer(t)
	const nodes, each = 200, 3
	for n := range nodes {
		j := filled(t, each)
		set := r.settings()
		set.Node = fmt.Sprintf("node-%03d", n)
		if err := New(set, j, nil).round(bg); err != nil {
			t.Fatal(err)
		}
		_ = j.Close()
		_ = os.RemoveAll(filepath.Dir(j.Path()))
	}
	for n := range nodes { // every node has its own rows under its own name, and no more than those
		row := r.query(fmt.Sprintf(`select count(value) from temperature where node = 'node-%03d'`, n))
		if row == nil || row[1].(float64) != 5*each {
			t.Fatalf("node %d: %v", n, row)
		}
	}
	if row := r.query(`select count(value) from temperature`); row == nil || row[1].(float64) != 5*each*nodes {
		t.Errorf("all nodes together: %v", row)
	}
}
