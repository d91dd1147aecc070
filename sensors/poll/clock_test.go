package poll

import (
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"lathwatch/sensors"
)

// A wallClock is the bubble's time with an offset that can be stepped; its monotonic part cannot.
type wallClock struct {
	step  atomic.Int64
	began time.Time
}

func (w *wallClock) Wall() time.Time { return time.Now().Add(time.Duration(w.step.Load())) }

func (w *wallClock) Boot() (time.Duration, error) { return time.Since(w.began), nil }

func bootRoot(t *testing.T, id string) string {
	root := t.TempDir()
	dir := filepath.Join(root, "proc/sys/kernel/random")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "boot_id"), []byte(id+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	return root
}

func TestClockTrust(t *testing.T) {
	now := time.Date(2027, 1, 20, 2, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		name    string
		clock   *Clock
		hctosys string
		want    bool
		why     string
	}{
		{"kernel synchronised", &Clock{Sync: func() (bool, error) { return true, nil }}, "", true, "the kernel is synchronised"},
		{"hardware clock set it", &Clock{Sync: func() (bool, error) { return false, nil }}, "1\n", true, "a hardware clock set it at boot"},
		{"hardware clock did not", &Clock{Sync: func() (bool, error) { return false, nil }}, "0\n", false, "neither the network nor a hardware clock has set it"},
		{"kernel will not say", &Clock{Sync: func() (bool, error) { return false, os.ErrPermission }}, "", false, "the kernel does not say whether it is synchronised (permission denied), and no hardware clock set it"},
		{"garden trusts it", &Clock{Trust: true}, "", true, "the garden trusts it"},
		{"earlier than the newest row, though trusted", &Clock{Trust: true, Newest: func() time.Time { return now.Add(time.Second) }}, "", false,
			"the clock says 2027-01-20T02:00:00Z, but there are rows up to 2027-01-20T02:00:01Z"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := tt.clock
			c.Root = t.TempDir()
			c.Wall = func() time.Time { return now }
			if tt.hctosys != "" {
				dir := filepath.Join(c.Root, "sys/class/rtc/rtc0")
				if err := os.MkdirAll(dir, 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(dir, "hctosys"), []byte(tt.hctosys), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			if s := c.Stamp(); s.Trusted != tt.want || s.Why != tt.why {
				t.Errorf("trusted %v: %s", s.Trusted, s.Why)
			}
		})
	}
}

func TestThisBoardsClockCanBeRead(t *testing.T) {
	s := (&Clock{}).Stamp()
	if s.Wall.IsZero() || s.Mono <= 0 || s.Why == "" || s.Wall.Location() != time.UTC {
		t.Errorf("%+v", s)
	}
}

func TestAHeldStampIsPlacedOnlyWithinItsBoot(t *testing.T) {
	held := Stamp{Wall: time.Date(1970, 1, 1, 0, 10, 0, 0, time.UTC), BootID: "b1", Mono: 10 * time.Minute}
	by := Stamp{Wall: time.Date(2027, 1, 20, 2, 0, 0, 0, time.UTC), BootID: "b1", Mono: 40 * time.Minute, Trusted: true}
	if at, ok := held.Place(by); !ok || !at.Equal(time.Date(2027, 1, 20, 1, 30, 0, 0, time.UTC)) {
		t.Errorf("placed at %v, %v", at, ok)
	}
	other := by
	other.BootID = "b2"
	untrusted := by
	untrusted.Trusted = false
	for _, s := range []Stamp{other, untrusted, {}} {
		if at, ok := held.Place(s); ok {
			t.Errorf("placed at %v by %+v", at, s)
		}
	}
}

func bootsInThePast(t *testing.T) {
	root := bootRoot(t, "b1")
	synctest.Test(t, func(t *testing.T) {
		w := &wallClock{began: time.Now()}
		newest := time.Date(2026, 3, 9, 5, 55, 0, 0, time.UTC)
		w.step.Store(int64(time.Until(time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC))))
		synced := atomic.Bool{}
		c := &Clock{Root: root, Wall: w.Wall, Boot: w.Boot, Newest: func() time.Time { return newest }, Sync: func() (bool, error) { return synced.Load(), nil }}
		p := fakePoller(t, Config{Clock: c}, &fakeChip{bus: "w1", chip: "w1 a", probes: []sensors.ProbeID{"a"}})
		defer start(t, p)()
		held := <-p.Rounds()
		if held.Stamp.Trusted || held.Entry.At.After(newest) || held.Stamp.BootID != "b1" {
			t.Errorf("the first round is %v, %+v", held.Entry.At, held.Stamp)
		}
		time.Sleep(200 * time.Second)
		truth := time.Date(2026, 3, 9, 6, 33, 20, 0, time.UTC) // now, as the network tells it
		w.step.Store(int64(time.Until(truth)))
		synced.Store(true)
		good := <-p.Rounds()
		if !good.Stamp.Trusted || !good.Entry.At.Equal(time.Date(2026, 3, 9, 6, 35, 0, 0, time.UTC)) {
			t.Errorf("after the step: %v, %+v", good.Entry.At, good.Stamp)
		}
		if at, ok := held.Stamp.Place(good.Stamp); !ok || !at.Equal(truth.Add(-200*time.Second)) {
			t.Errorf("the held round belongs at %v, %v; want %v", at, ok, truth.Add(-200*time.Second))
		}
	})
}

func steppedBack(t *testing.T) {
	root := bootRoot(t, "b1")
	synctest.Test(t, func(t *testing.T) {
		w := &wallClock{began: time.Now()}
		time.Sleep(2 * time.Hour)
		c := &Clock{Root: root, Trust: true, Wall: w.Wall, Boot: w.Boot}
		p := fakePoller(t, Config{Clock: c}, &fakeChip{bus: "w1", chip: "w1 a", probes: []sensors.ProbeID{"a"}})
		defer start(t, p)()
		var got []Visit
		got = append(got, <-p.Rounds(), <-p.Rounds()) // 02:00, 02:05
		w.step.Store(int64(-time.Minute))
		got = append(got, <-p.Rounds()) // a small step: just the next one
		w.step.Store(int64(-time.Hour))
		got = append(got, <-p.Rounds(), <-p.Rounds())
		var lines []string
		for i, v := range got {
			line := tell(v)
			if v.Stamp.Trusted {
				line += " trusted"
			}
			lines = append(lines, line)
			if v.Seq != uint64(i+1) || i > 0 && v.Stamp.Mono <= got[i-1].Stamp.Mono {
				t.Errorf("visit %d has sequence %d, %v after boot", i, v.Seq, v.Stamp.Mono)
			}
		}
		wantLines(t, "rounds", []string{"02:00 a=4 trusted", "02:05 a=4 trusted", "02:10 a=4 trusted", "01:15 a=4", "01:20 a=4"}, lines)
	})
}

func suspend(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := &wallClock{began: time.Now()}
		p := fakePoller(t, Config{Clock: &Clock{Trust: true, Wall: w.Wall, Boot: w.Boot}}, &fakeChip{bus: "w1", chip: "w1 a", probes: []sensors.ProbeID{"a"}})
		defer start(t, p)()
		got := rounds(p, 2) // 00:00, 00:05
		time.Sleep(5 * time.Second)
		w.step.Store(int64(8 * time.Hour)) // eight hours of wall time in which no timer ran
		asleep := time.Now()
		got = append(got, rounds(p, 1)...)
		if woke := time.Since(asleep); woke > nap {
			t.Errorf("woke %v after the suspend", woke)
		}
		got = append(got, rounds(p, 2)...)
		wantLines(t, "rounds", []string{"00:00 a=4", "00:05 a=4", "08:05 a=4", "08:10 a=4", "08:15 a=4"}, got)
	})
}
