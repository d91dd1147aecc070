package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/poll"
)

const liveGarden = `
[site]
id = "brackenfold"
name = "Brackenfold"
latitude = 51.9
longitude = 14.2
zone = "Europe/Berlin"
every = "1 min"
[page]
listen = "127.0.0.1:0"
[broker]
listen = "127.0.0.1:0"
[[place]]
id = "table"
name = "the shelter table"
roof = true
[[plant]]
id = "franchetii"
regime = "dry-winter"
[[pot]]
id = "D7"
plant = "franchetii"
place = "table"
volume = "3 L"
[[probe]]
id = "D7-t"
measures = "pot-temperature"
pot = "D7"
[probe.w1]
id = "28-0000000000ab"
`

const warmProbe = "58 01 4b 46 7f ff 08 10 f9 : crc=f9 YES\n58 01 4b 46 7f ff 08 10 f9 t=21500\n"

// liveDaemon is a daemon on a fake tree whose clock runs sixty times as fast.
type liveDaemon struct {
	*Daemon
	stop  context.CancelFunc
	ended chan error
	page  string
}

func startLive(t *testing.T, state string, begin time.Time) *liveDaemon {
	t.Helper()
	root := t.TempDir()
	dir := filepath.Join(root, "sys/bus/w1/devices/28-0000000000ab")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "w1_slave"), []byte(warmProbe), 0o644); err != nil {
		t.Fatal(err)
	}
	started := time.Now()
	now := func() time.Time { return begin.Add(60 * time.Since(started)).UTC() }
	ctx, stop := context.WithCancel(context.Background())
	l := &liveDaemon{stop: stop, ended: make(chan error, 1)}
	up := make(chan struct{})
	d, err := New(ctx, Config{GardenPath: "garden.toml", GardenText: liveGarden, StateDir: state, Root: root, Now: now,
		Clock: &poll.Clock{Trust: true, Wall: now}, Started: func(page, _ string) { l.page = page; close(up) }})
	if err != nil {
		t.Fatal(err)
	}
	l.Daemon = d
	go func() { l.ended <- d.Run(ctx) }() // ends with stop
	select {
	case <-up:
	case err := <-l.ended:
		t.Fatal(err)
	case <-time.After(30 * time.Second):
		t.Fatal("the daemon did not start")
	}
	t.Cleanup(stop)
	return l
}

func (l *liveDaemon) end(t *testing.T) {
	t.Helper()
	l.stop()
	select {
	case err := <-l.ended:
		if err != nil && !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
	case <-time.After(20 * time.Second):
		t.Error("the daemon did not end")
	}
}

func (l *liveDaemon) until(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for range 600 {
		if ok() {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("waited in vain for %s", what)
}

// A daemon lives, takes a note over its socket, stops, and a second one knows what the first knew.
func TestADaemonLivesStopsAndLivesOn(t *testing.T) {
	state := t.TempDir()
	begin := time.Date(2026, 12, 3, 10, 0, 0, 0, time.UTC)
	l := startLive(t, state, begin)
	l.until(t, "two rounds", func() bool { return l.walkedTo().After(begin.Add(2 * time.Minute)) })
	c, err := Dial(state)
	if err != nil {
		t.Fatal(err)
	}
	ctx := t.Context()
	if _, err := c.Note(ctx, sensors.Note{Subject: "D7", What: sensors.Nose}); err != nil {
		t.Error(err)
	}
	if _, err := c.Note(ctx, sensors.Note{Subject: "Z9", What: sensors.Nose}); err == nil || !strings.Contains(err.Error(), "Z9") {
		t.Errorf("a note about no pot: %v", err)
	}
	if got := stageOfD7(t, c); got != "nose" {
		t.Errorf("stage is %s", got)
	}
	if _, err := c.Note(ctx, sensors.Note{At: begin.AddDate(0, 0, -3), Subject: "D7", What: sensors.Opening}); err != nil {
		t.Error("a back-dated note:", err)
	}
	if got := stageOfD7(t, c); got != "nose" {
		t.Errorf("after a back-dated note the stage is %s: it must take its own place in the past", got)
	}
	if h, err := c.Health(ctx); err != nil || !h.Running || len(h.Silent) > 0 {
		t.Errorf("health %+v %v", h, err)
	}
	if s, err := c.Survey(ctx); err != nil || len(s.Probes) != 1 || s.Probes[0].Value != "21.5 °C" {
		t.Errorf("survey %+v %v", s, err)
	}
	last := l.walkedTo()
	l.end(t)
	again := startLive(t, state, last.Add(30*time.Second))
	if st := again.Standing(); !st.At.Equal(last) && st.At.Before(last) || st.Pots[0].Stage.String() != "nose" {
		t.Errorf("after the restart: %v, stage %v, want %v", st.At, st.Pots[0].Stage, last)
	}
	again.end(t)
}

func (l *liveDaemon) walkedTo() time.Time { return l.Standing().At }

func stageOfD7(t *testing.T, c *Client) string {
	t.Helper()
	lines, err := c.State(t.Context())
	if err != nil || len(lines) == 0 {
		t.Fatal(lines, err)
	}
	var pot struct{ Stage string }
	if err := json.Unmarshal(lines[0], &pot); err != nil {
		t.Fatal(err)
	}
	return pot.Stage
}

// A second daemon on the same state is refused with words.
func TestTwoDaemonsDoNotShareAJournal(t *testing.T) {
	state := t.TempDir()
	l := startLive(t, state, time.Date(2026, 12, 3, 10, 0, 0, 0, time.UTC))
	_, err := New(t.Context(), Config{GardenPath: "garden.toml", GardenText: liveGarden, StateDir: state})
	if err == nil {
		t.Error("the second one started")
	}
	l.end(t)
}

// A clock nobody vouches for holds rounds back and says so.
func TestRoundsOfAnUntrustedClockAreHeld(t *testing.T) {
	state := t.TempDir()
	var synced atomic.Bool
	d, err := New(t.Context(), Config{GardenPath: "garden.toml", GardenText: liveGarden, StateDir: state, Now: func() time.Time { return time.Date(2026, 12, 3, 10, 0, 0, 0, time.UTC) }})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	at := time.Date(2026, 12, 3, 10, 0, 0, 0, time.UTC)
	visit := func(wrong, right time.Time, mono time.Duration) {
		r := sensors.Round{At: wrong}
		d.visit(t.Context(), poll.Visit{Entry: sensors.Entry{At: wrong, Round: &r},
			Stamp: poll.Stamp{Wall: right, BootID: "one", Mono: mono, Trusted: synced.Load(), Why: "nobody vouches for it"}})
	}
	visit(at.AddDate(-50, 0, 0), at.AddDate(-50, 0, 0), time.Minute)
	visit(at.AddDate(-50, 0, 0).Add(time.Minute), at.AddDate(-50, 0, 0).Add(time.Minute), 2*time.Minute)
	if st := d.Standing(); !strings.Contains(st.Trouble, "clock") {
		t.Errorf("trouble %q", st.Trouble)
	}
	if st := d.Standing(); !st.At.Before(at) && strings.Contains(st.Trouble, "provisional") {
		t.Error("judged at once")
	}
	visit(at.AddDate(-50, 0, 0).Add(31*time.Minute), at.AddDate(-50, 0, 0), 32*time.Minute)
	if st := d.Standing(); !strings.Contains(st.Trouble, "provisional") {
		t.Errorf("after half an hour: %q", st.Trouble)
	}
	synced.Store(true)
	visit(at.Add(40*time.Minute), at.Add(40*time.Minute), 41*time.Minute)
	var got []string
	for e, err := range d.Journal().Entries(t.Context(), time.Time{}, time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		if e.Round != nil {
			got = append(got, e.At.Format("15:04"))
		}
	}
	if want := "[10:00 10:01 10:31 10:40]"; fmt.Sprint(got) != want {
		t.Errorf("rounds on record %v, want %s", got, want)
	}
	if st := d.Standing(); strings.Contains(st.Trouble, "clock") {
		t.Errorf("trouble after the clock was set: %q", st.Trouble)
	}
}
