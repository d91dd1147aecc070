package daemon

import (
	"net"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestTheSupervisorHearsUs(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notify")
	c, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	t.Setenv("NOTIFY_SOCKET", path)
	if err := notify("READY=1"); err != nil {
		t.Fatal(err)
	}
	b := make([]byte, 100)
	c.SetReadDeadline(time.Now().Add(5 * time.Second))
	n, err := c.Read(b)
	if err != nil || string(b[:n]) != "READY=1" {
		t.Errorf("heard %q, %v", b[:n], err)
	}
}

func TestNoSupervisorIsNoTrouble(t *testing.T) {
	t.Setenv("NOTIFY_SOCKET", "")
	if err := notify("READY=1"); err != nil {
		t.Error(err)
	}
}

func TestTheWatchdogsPeriodIsOnlyOurs(t *testing.T) {
	t.Setenv("WATCHDOG_USEC", "30000000")
	t.Setenv("WATCHDOG_PID", "1")
	if watchdog() != 0 {
		t.Error("took another process's watchdog for ours")
	}
	t.Setenv("WATCHDOG_PID", "")
	if watchdog() != 30*time.Second {
		t.Error(watchdog())
	}
}

// K8: the watchdog is fed only while every needed worker has beaten within its limit, and a slow start is not punished.
func TestAWorkerThatStoppedStopsTheFeeding(t *testing.T) {
	t.Run("FieldLog/K8_fed_while_dead", func(t *testing.T) {
		began := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)
		var last time.Time
		roster := []worker{{name: "walker"}, {name: "bus w1", beat: func() time.Time { return last }, limit: time.Minute}}
		if got := overdue(roster, began, began.Add(50*time.Second)); got != "" {
			t.Errorf("%s is late before its limit", got)
		}
		last = began.Add(50 * time.Second)
		if got := overdue(roster, began, began.Add(100*time.Second)); got != "" {
			t.Errorf("%s is late although it has beaten", got)
		}
		if got := overdue(roster, began, began.Add(111*time.Second)); !strings.Contains(got, "w1") {
			t.Errorf("a worker silent for 61 s passes: %q", got)
		}
	})
}

// The nightly copy follows the civil clock over both changes.
func TestTheNightlyCopyComesOnceANight(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for _, start := range []time.Time{time.Date(2026, 3, 28, 12, 0, 0, 0, zone), time.Date(2026, 10, 24, 12, 0, 0, 0, zone)} {
		at := start
		for i := range 3 {
			at = at.Add(untilNight(at))
			if at.Day() == at.Add(-6*time.Hour).Day() || at.Sub(start) > time.Duration(i+1)*25*time.Hour {
				t.Errorf("copy %d at %v", i, at)
			}
		}
	}
}
