package main

import (
	"errors"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// A life is one process of the real program, `lathwatch run`, under a supervisor that listens.
type life struct {
	t     *testing.T
	cmd   *exec.Cmd
	out   lockedBuffer // what it prints on both streams
	heard chan string
	ended chan error
}

const livesGarden = `[site]
id = "brackenfold"
latitude = 51.9
longitude = 14.2
zone = "Europe/Berlin"
every = "1 min"
clock = "trust"
[page]
listen = "127.0.0.1:0"
[broker]
listen = "127.0.0.1:0"
[[place]]
id = "table"
[[plant]]
id = "franchetii"
regime = "dry-winter"
[[pot]]
id = "D7"
plant = "franchetii"
place = "table"
[[probe]]
id = "D7-t"
measures = "pot-temperature"
pot = "D7"
[probe.w1]
id = "28-0000000000ab"
`

// livesIn makes a folder with a garden and the program in it: this test under the program's name, which makes it the program.
func livesIn(t *testing.T) (dir, probe string) {
	t.Helper()
	dir = t.TempDir()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	probe = filepath.Join(dir, "sys/bus/w1/devices/28-0000000000ab/w1_slave")
	if err := errors.Join(os.Symlink(self, filepath.Join(dir, "lathwatch")), os.WriteFile(filepath.Join(dir, "garden.toml"), []byte(livesGarden), 0o644),
		os.MkdirAll(filepath.Dir(probe), 0o755)); err != nil {
		t.Fatal(err)
	}
	return dir, probe
}

func begins(t *testing.T, dir string, env ...string) *life {
	t.Helper()
	sock := filepath.Join(dir, "notify")
	_ = os.Remove(sock) // of the life before
	c, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: sock, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	l := &life{t: t, heard: make(chan string, 10000), ended: make(chan error, 1)}
	l.cmd = exec.Command(filepath.Join(dir, "lathwatch"), "run", "--garden", filepath.Join(dir, "garden.toml"), "--state", filepath.Join(dir, "state"), "--root", dir,
		"--answer", "200ms", "--patience", "1s")
	l.cmd.Env = append(os.Environ(), append(env, "NOTIFY_SOCKET="+sock)...)
	l.cmd.Stdout, l.cmd.Stderr = &l.out, &l.out
	if err := l.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() { // ends with the socket
		b := make([]byte, 4096)
		for {
			n, err := c.Read(b)
			if err != nil {
				return
			}
			l.heard <- string(b[:n])
		}
	}()
	go func() { l.ended <- l.cmd.Wait() }() // ends with the process
	t.Cleanup(func() { _ = l.cmd.Process.Kill(); c.Close() })
	return l
}

// hear waits for an assignment, at most so long, and gives the whole message.
func (l *life) hear(what string, atMost time.Duration) string {
	l.t.Helper()
	late := time.After(atMost)
	for {
		select {
		case s := <-l.heard:
			if strings.Contains(s, what) {
				return s
			}
		case <-late:
			l.t.Fatalf("waited in vain for %s; it printed\n%s", what, l.out.String())
		}
	}
}

func (l *life) over() *os.ProcessState {
	l.t.Helper()
	select {
	case <-l.ended:
		return l.cmd.ProcessState
	case <-time.After(30 * time.Second):
		l.t.Fatalf("the program goes on; it printed\n%s", l.out.String())
		return nil
	}
}

// asked gives what another command of the same program prints.
func asked(t *testing.T, dir string, args ...string) string {
	t.Helper()
	out, err := exec.Command(filepath.Join(dir, "lathwatch"), append(args, "--state", filepath.Join(dir, "state"))...).CombinedOutput()
	var exit *exec.ExitError
	if err != nil && (!errors.As(err, &exit) || exit.ExitCode() != 1) { // a silent probe makes it 1
		t.Fatalf("%v: %v\n%s", args, err, out)
	}
	return string(out)
}

// However the program ends, the next start knows and `check` tells.
func TestCheckTellsHowTheRunBeforeEnded(t *testing.T) {
	dir, probe := livesIn(t)
	if err := os.WriteFile(probe, []byte("58 01 4b 46 7f ff 08 10 f9 : crc=f9 YES\n58 01 4b 46 7f ff 08 10 f9 t=21500\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	signal := func(s syscall.Signal) func(*life) { return func(l *life) { _ = l.cmd.Process.Signal(s) } }
	var told []string
	l := begins(t, dir)
	for _, c := range []struct {
		what, say string
		end       func(*life)
	}{
		{"a stop", "a stop as asked", signal(syscall.SIGTERM)},
		{"a kill", "an end without a word, on the same boot of the board (killed)", signal(syscall.SIGKILL)},
		{"the supervisor's watchdog", "a hang: the supervisor ended it for want of a sign of life", signal(syscall.SIGABRT)},
		{"a fault in memory", "a fault of its own: SIGSEGV: segmentation violation", signal(syscall.SIGSEGV)},
		{"no memory left", "a fault of its own: ", starve},
	} {
		l.hear("READY=1", 20*time.Second)
		c.end(l)
		l.over()
		l = begins(t, dir)
		l.hear("READY=1", 20*time.Second)
		line := regexp.MustCompile(`(?m)^Started .* after (.*) \(\d{4}-\d\d-\d\d \d\d:\d\d UTC\)$`)
		got := line.FindStringSubmatch(asked(t, dir, "check", "--garden", filepath.Join(dir, "garden.toml")))
		if got == nil || !strings.HasPrefix(got[1], c.say) {
			b, _ := os.ReadFile(filepath.Join(dir, "state", "last-words.old"))
			t.Errorf("after %s `check` says %q, want %q; its last words began\n%.600s", c.what, got, c.say, b)
			continue
		}
		told = append(told, got[1])
		l.heard <- "READY=1" // for the next turn
	}
	live, journal := asked(t, dir, "check", "--live"), asked(t, dir, "check", "--journal")
	for _, end := range told {
		if !strings.Contains(live, end) || !strings.Contains(journal, end) {
			t.Errorf("%q is not in\n%s\nor not in\n%s", end, live, journal)
		}
	}
	if !strings.Contains(live, "(runs)") {
		t.Errorf("the run at hand is not in\n%s", live)
	}
	_ = l.cmd.Process.Signal(syscall.SIGTERM)
	if st := l.over(); !st.Success() {
		t.Errorf("asked to stop: %v\n%s", st, l.out.String())
	}
}

// starve takes the address space away from a program and then makes it want some.
func starve(l *life) {
	l.t.Helper()
	if err := unix.Prlimit(l.cmd.Process.Pid, unix.RLIMIT_AS, &unix.Rlimit{Cur: 1 << 20, Max: 1 << 20}, nil); err != nil {
		l.t.Fatal(err)
	}
	page := regexp.MustCompile(`page (http://\S+)`).FindStringSubmatch(l.out.String())
	for range 400 {
		resp, err := http.Get(page[1] + "/metrics")
		if err != nil {
			return
		}
		resp.Body.Close()
	}
	l.t.Error("it lives on without memory")
}
