package daemon

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"lathwatch/sensors/poll"
)

// TestActAsDaemon is the daemon of the tests below, in a process of its own: LATHWATCH_ACT names its folder, where "begin" holds its
// clock's first minute.
func TestActAsDaemon(t *testing.T) {
	dir := os.Getenv("LATHWATCH_ACT")
	if dir == "" {
		t.Skip("only a helper of other tests")
	}
	b, _ := os.ReadFile(filepath.Join(dir, "begin"))
	begin, err := time.Parse(time.RFC3339, string(b))
	if err != nil {
		t.Fatal(err)
	}
	started := time.Now()
	now := func() time.Time { return begin.Add(time.Since(started)) }
	said, err := LastWords(dir)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	d, err := New(ctx, Config{GardenPath: "garden.toml", GardenText: liveGarden, StateDir: dir, Root: dir, Now: now, Clock: &poll.Clock{Trust: true, Wall: now},
		LastWords: said, Answer: 200 * time.Millisecond, Patience: time.Second, Version: "0.1.7"})
	if err != nil {
		t.Fatal(err)
	}
	if os.Getenv("LATHWATCH_PANIC") != "" {
		go panic("a nail in the board")
	}
	if err := d.Run(ctx); err != nil && !errors.Is(err, context.Canceled) {
		t.Log(err)
		os.Exit(1)
	}
}

// A run is one process of the daemon with a supervisor that listens.
type run struct {
	cmd   *exec.Cmd
	ended chan error
	heard chan string
	t     *testing.T
}

func startRun(t *testing.T, dir string, begin time.Time, env ...string) *run {
	t.Helper()
	sock := filepath.Join(dir, "notify")
	_ = os.Remove(sock)
	c, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: sock, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "begin"), []byte(begin.Format(time.RFC3339)), 0o644); err != nil {
		t.Fatal(err)
	}
	r := &run{cmd: exec.Command(os.Args[0], "-test.run=^TestActAsDaemon$"), ended: make(chan error, 1), heard: make(chan string, 10000), t: t}
	r.cmd.Env = append(os.Environ(), append(env, "LATHWATCH_ACT="+dir, "NOTIFY_SOCKET="+sock, "WATCHDOG_USEC=400000")...)
	if err := r.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() { // ends with the socket
		b := make([]byte, 4096)
		for {
			n, err := c.Read(b)
			if err != nil {
				close(r.heard)
				return
			}
			r.heard <- string(b[:n])
		}
	}()
	go func() { r.ended <- r.cmd.Wait() }() // ends with the process
	t.Cleanup(func() { _ = r.cmd.Process.Kill(); c.Close() })
	return r
}

// hear waits for an assignment and gives the whole message.
func (r *run) hear(what string) string {
	r.t.Helper()
	for {
		select {
		case s := <-r.heard:
			if strings.Contains(s, what) {
				return s
			}
		case <-time.After(20 * time.Second):
			r.t.Fatalf("waited in vain for %s", what)
		}
	}
}

func (r *run) over() error {
	r.t.Helper()
	select {
	case err := <-r.ended:
		return err
	case <-time.After(20 * time.Second):
		r.t.Fatal("the process goes on")
		return nil
	}
}

func book(t *testing.T, dir string) []StartLine {
	t.Helper()
	c, err := Dial(dir)
	if err != nil {
		t.Fatal(err)
	}
	h, err := c.Health(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return h.Starts
}

func wired(t *testing.T) (dir, probe string) {
	t.Helper()
	dir = t.TempDir()
	probe = filepath.Join(dir, "sys/bus/w1/devices/28-0000000000ab/w1_slave")
	if err := os.MkdirAll(filepath.Dir(probe), 0o755); err != nil {
		t.Fatal(err)
	}
	return dir, probe
}

// W14, K8 with real processes: a FIFO without a writer in place of a kernel file blocks its reader for ever.
func TestAHungReadEndsOneProcessAndNotTheNext(t *testing.T) {
	dir, probe := wired(t)
	if err := syscall.Mkfifo(probe, 0o644); err != nil {
		t.Skipf("no FIFO here: %v", err)
	}
	begin := time.Date(2026, 12, 3, 10, 0, 0, 0, time.UTC)
	first := startRun(t, dir, begin)
	first.hear("EXTEND_TIMEOUT_USEC=")
	first.hear("READY=1")
	first.hear("WATCHDOG=1")
	if s := first.hear("giving up"); !strings.Contains(s, "bus w1") || strings.Contains(s, "WATCHDOG") {
		t.Errorf("heard %q", s)
	}
	var exit *exec.ExitError
	if err := first.over(); !errors.As(err, &exit) || exit.ExitCode() != 1 {
		t.Errorf("ended with %v", err)
	}
	second := startRun(t, dir, begin.Add(time.Minute)) // as the supervisor would
	second.hear("READY=1")
	second.hear("silent") // the round in which the read hung again
	for range 15 {        // three seconds of signs of life, three times the limit
		if s := second.hear("STATUS="); !strings.HasPrefix(s, "WATCHDOG=1") {
			t.Errorf("heard %q", s)
		}
	}
	got := book(t, dir)
	if len(got) != 2 || got[1].How != "hung" || !strings.Contains(got[1].Ending, "bus w1") {
		t.Errorf("the book says %+v", got)
	}
	_ = second.cmd.Process.Signal(syscall.SIGTERM)
	second.hear("STOPPING=1")
	if err := second.over(); err != nil {
		t.Errorf("asked to stop: %v", err)
	}
}

func TestTheBookTellsHowEachRunEnded(t *testing.T) {
	dir, probe := wired(t)
	if err := os.WriteFile(probe, []byte(warmProbe), 0o644); err != nil {
		t.Fatal(err)
	}
	boot := filepath.Join(dir, "proc/sys/kernel/random/boot_id")
	if err := os.MkdirAll(filepath.Dir(boot), 0o755); err != nil {
		t.Fatal(err)
	}
	begin := time.Date(2026, 12, 3, 10, 0, 0, 0, time.UTC)
	for i, c := range []struct {
		what, how, say string
		end            func(r *run)
		env            string
		newBoot        bool
	}{
		{what: "a stop", how: "stopped", say: "a stop as asked", end: func(r *run) { _ = r.cmd.Process.Signal(syscall.SIGTERM) }},
		{what: "a kill", how: "killed", say: "killed", end: func(r *run) { _ = r.cmd.Process.Kill() }},
		{what: "a power cut", how: "cut", say: "power cut", end: func(r *run) { _ = r.cmd.Process.Kill() }, newBoot: true},
		{what: "a panic", how: "panicked", say: "panic: a nail in the board", env: "LATHWATCH_PANIC=1", end: func(*run) {}},
		{what: "the supervisor's watchdog", how: "hung", say: "the supervisor ended it", end: func(r *run) { _ = r.cmd.Process.Signal(syscall.SIGABRT) }},
	} {
		if i == 0 || c.newBoot {
			if err := os.WriteFile(boot, []byte(strconv.Itoa(i)), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		r := startRun(t, dir, begin.Add(time.Duration(2*i)*time.Minute), c.env)
		if c.env == "" {
			r.hear("READY=1")
		}
		if c.newBoot { // the board begins anew before the next run does
			if err := os.WriteFile(boot, []byte("after the cut"), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		c.end(r)
		_ = r.over()
		next := startRun(t, dir, begin.Add(time.Duration(2*i+1)*time.Minute))
		next.hear("READY=1")
		got := book(t, dir)
		if len(got) < 2 || got[1].How != c.how || !strings.Contains(got[1].Ending, c.say) || got[0].How != "" {
			t.Errorf("after %s the book says %+v", c.what, got[:min(len(got), 2)])
		}
		_ = next.cmd.Process.Signal(syscall.SIGTERM)
		if err := next.over(); err != nil {
			t.Error(err)
		}
	}
}

// A worker that panics ends the run in good order: the journal is closed and the book says why.
func TestAPanickingWorkerIsAnErrorOfTheRun(t *testing.T) {
	d := &Daemon{cfg: Config{Log: slog.New(slog.DiscardHandler)}}
	err := d.guard(worker{name: "walker", run: func(context.Context) error { var d *Daemon; d.cfg.Version = ""; return nil }})(t.Context())
	var p errPanic
	if !errors.As(err, &p) || !strings.Contains(err.Error(), "nil pointer") {
		t.Errorf("got %v", err)
	}
}

func TestLastWordsAreOneLine(t *testing.T) {
	for text, want := range map[string]string{
		"panic: boom\n\ngoroutine 1 [running]:\n":                                 "panic: boom",
		"SIGABRT: abort\nPC=0x7f m=2 sigcode=18446744073709551610\n\ngoroutine 0": "the program aborted itself; the log has its words", // pthread_create without memory
		"SIGABRT: abort\nPC=0x4 m=0 sigcode=0\n":                                  "SIGABRT: abort",
		"runtime: out of memory\nfatal error: runtime: cannot allocate\n":         "fatal error: runtime: cannot allocate",
		"\n  something else\nmore\n":                                              "something else",
		"panic: " + strings.Repeat("ä", 300):                                      "panic: " + strings.Repeat("ä", 96),
		"\nruntime stack:\nruntime.throw({0x4af95c?, 0x25?})\n\t/go/panic.go:1229 +0x48 fp=0x7ffd\nruntime.sysMapOS(0x144, {0x4a, 0x4})\n\t/go/mem_linux.go:175 +0x13b\n" +
			"runtime.(*mheap).grow(0x564d68?, 0x80?)\n\t/go/mheap.go:1634\n\ngoroutine 1 gp=0x1 m=0 mp=0x5 [running]:\nruntime.systemstack_switch()\n": "a fatal error of the runtime in runtime.sysMapOS, called by runtime.(*mheap).grow; the log has its words",
		"\ngoroutine 21 [running]:\ninternal/runtime/maps.fatal({0x4a, 0x0?})\n\t/go/panic.go:1181 +0x18\nmain.main.func1()\n\t/x/main.go:7 +0x26\ncreated by main.main in goroutine 1\n\t/x/main.go:7\n": "a fatal error of the runtime in main.main.func1; the log has its words",
		"panic: first [recovered]\n\tpanic: second\n\ngoroutine 7 [run]:\n": "panic: first [recovered]",
	} {
		if got := lastLine(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
