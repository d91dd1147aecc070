package main

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The real program on a bus whose chip never comes back (a FIFO without a writer in place of the kernel's file): one run gives up and
// says why, the next one finds it hanging again, says so, and gives signs of life for as long as it is watched here. A round is a
// minute, so this takes three; the same with a clock of its own is in the daemon's tests.
func TestAWedgedBusCostsTheProgramOneStart(t *testing.T) {
	if os.Getenv("LATHWATCH_LONG") != "1" {
		t.Skip("LATHWATCH_LONG is not 1: it takes three minutes")
	}
	dir, probe := livesIn(t)
	if err := syscall.Mkfifo(probe, 0o644); err != nil {
		t.Fatal(err)
	}
	first := begins(t, dir, "WATCHDOG_USEC=1000000")
	first.hear("READY=1", 20*time.Second)
	first.hear("WATCHDOG=1", 20*time.Second)
	if s := first.hear("giving up", 90*time.Second); !strings.Contains(s, "bus w1: a chip on it has not come back") || strings.Contains(s, "WATCHDOG") {
		t.Errorf("heard %q", s)
	}
	if st := first.over(); st.ExitCode() != 1 {
		t.Errorf("ended with %v", st)
	}
	second := begins(t, dir, "WATCHDOG_USEC=1000000")
	second.hear("READY=1", 20*time.Second)
	live := ""
	for until := time.Now().Add(3 * time.Minute); !strings.Contains(live, "hangs again"); { // it is told with the round after the one it hung in
		if s := second.hear("STATUS=", 5*time.Second); !strings.HasPrefix(s, "WATCHDOG=1") {
			t.Fatalf("it said %q", s)
		}
		if live = asked(t, dir, "check", "--live"); time.Now().After(until) {
			break
		}
	}
	if !strings.Contains(live, "It hangs again after a new start, so look at its wiring and power: bus w1") {
		t.Errorf("it says\n%s", live)
	}
	for range 40 { // twenty times the patience, and no second giving up
		if s := second.hear("STATUS=", 5*time.Second); !strings.HasPrefix(s, "WATCHDOG=1") {
			t.Fatalf("it said %q", s)
		}
	}
	short := asked(t, dir, "check", "--garden", filepath.Join(dir, "garden.toml"))
	if !strings.Contains(short, ", after a hang: bus w1: a chip on it has not come back") {
		t.Errorf("it says\n%s", short)
	}
	_ = second.cmd.Process.Signal(syscall.SIGTERM)
	if st := second.over(); !st.Success() {
		t.Errorf("asked to stop: %v", st)
	}
}
