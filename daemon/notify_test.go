package daemon

import (
	"net"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"testing/synctest"
	"time"
)

func env(pairs ...string) func(string) string {
	return func(k string) string {
		for i := 0; i+1 < len(pairs); i += 2 {
			if pairs[i] == k {
				return pairs[i+1]
			}
		}
		return ""
	}
}

func TestTheSupervisorHearsUs(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notify")
	c, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if err := supervisorOf(env("NOTIFY_SOCKET", path)).tell("READY=1", "twelve pots,\nREADY=0\tall well"); err != nil {
		t.Fatal(err)
	}
	b := make([]byte, 100)
	c.SetReadDeadline(time.Now().Add(5 * time.Second))
	n, err := c.Read(b)
	if err != nil || string(b[:n]) != "READY=1\nSTATUS=twelve pots, READY=0 all well" {
		t.Errorf("heard %q, %v", b[:n], err)
	}
}

func TestNoSupervisorIsNoTrouble(t *testing.T) {
	nobody := supervisorOf(env())
	if err := nobody.tell("READY=1", ""); err != nil || nobody.every != 0 {
		t.Error(err, nobody.every)
	}
	nobody.starting("x")()
}

func TestTheWatchdogsPeriodIsOnlyOurs(t *testing.T) {
	for _, c := range []struct {
		usec, pid string
		want      time.Duration
	}{{"30000000", "1", 0}, {"30000000", "", 30 * time.Second}, {"30000000", strconv.Itoa(os.Getpid()), 30 * time.Second}, {"", "", 0}, {"-5", "", 0}, {"soon", "", 0}} {
		if got := watchdog(env("WATCHDOG_USEC", c.usec, "WATCHDOG_PID", c.pid)); got != c.want {
			t.Errorf("WATCHDOG_USEC=%q WATCHDOG_PID=%q: %v, want %v", c.usec, c.pid, got, c.want)
		}
	}
}

// K8: a check of the journal that takes longer than a start may is announced, and a start that never ends is not announced for ever.
func TestASlowStartAsksForTimeAndAnEndlessOneStopsAsking(t *testing.T) {
	for _, c := range []struct {
		lasts time.Duration
		n     int
	}{{lasts: 70 * time.Second, n: 5}, {lasts: 3 * time.Hour, n: 240}} {
		synctest.Test(t, func(t *testing.T) {
			var heard []string
			boss := supervisor{send: func(s string) error { heard = append(heard, s); return nil }}
			done := boss.starting("checking")
			time.Sleep(c.lasts)
			done()
			if len(heard) != c.n || heard[0] != "EXTEND_TIMEOUT_USEC=60000000\nSTATUS=checking" {
				t.Errorf("in %v asked %d times, want %d: %q", c.lasts, len(heard), c.n, heard[:1])
			}
		})
	}
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
