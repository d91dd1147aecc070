package journal

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A board is a writer on a card.
type board struct {
	t      *testing.T
	how    string
	folder string
	card   *card
	cmd    *exec.Cmd
	out    *os.File
	rest   string // an unfinished line
	begun  string // what the writer has begun and not acknowledged
	done   map[string]bool
}

func newBoard(t *testing.T, how string) *board {
	b := &board{t: t, how: how, folder: dir(t), done: map[string]bool{}}
	image := filepath.Join(b.folder, "card.image")
	if err := makeImage(image); err != nil {
		t.Fatal(err)
	}
	b.card = insert(t, image, filepath.Join(b.folder, "card"))
	b.start()
	return b
}

func (b *board) start() {
	b.t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		b.t.Fatal(err)
	}
	b.cmd = exec.Command(os.Args[0])
	b.cmd.Env = append(os.Environ(), "JOURNAL_TEST_WRITER="+b.card.journal(), "JOURNAL_TEST_SYNC="+b.how)
	b.cmd.Stdout = w
	b.cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL} // a stopped writer must not outlive a test that is ended
	err = b.cmd.Start()
	_ = w.Close()
	if err != nil {
		b.t.Fatal(err)
	}
	b.out, b.rest, b.begun = r, "", ""
	cmd := b.cmd
	b.t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait(); _ = r.Close() })
}

func (b *board) kill() {
	_ = b.cmd.Process.Kill()
	_ = b.cmd.Wait()
	_ = b.out.Close()
}

func (b *board) end() {
	b.kill()
	b.card.remove()
	_ = os.Remove(b.card.image)
}

// cutWithin lets the writer work for a random moment and stops it, in the middle of the wanted work when twenty tries hit it. It
// gives what the writer was at.
func (b *board) cutWithin(rng *rand.Rand, wanted string) (within string) {
	b.t.Helper()
	for had := len(b.done); len(b.done) == had; { // a process takes its time to start
		b.read(10*time.Millisecond, "")
	}
	b.read(time.Duration(rng.IntN(120))*time.Millisecond, "")
	for tries := 1; ; tries++ {
		if wanted != "" && b.read(time.Second, "begin "+wanted) {
			time.Sleep(time.Duration(rng.IntN(300)) * time.Microsecond)
		}
		if within = b.stop(); wanted == "" || within == wanted || tries == 20 {
			return within
		}
		b.resume()
	}
}

// read takes what the writer says for a while, or until it says what is wanted.
func (b *board) read(d time.Duration, wanted string) bool {
	b.t.Helper()
	if err := b.out.SetReadDeadline(time.Now().Add(d)); err != nil {
		b.t.Fatal(err)
	}
	buf := make([]byte, 1<<16)
	for {
		n, err := b.out.Read(buf)
		if b.hear(string(buf[:n]), wanted) {
			return true
		}
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return false
		}
		if err != nil {
			b.t.Fatalf("the writer is gone: %v", err)
		}
	}
}

func (b *board) hear(text, wanted string) (heard bool) {
	b.t.Helper()
	lines := strings.Split(b.rest+text, "\n")
	b.rest = lines[len(lines)-1]
	for _, line := range lines[:len(lines)-1] {
		what, isBegin := strings.CutPrefix(line, "begin ")
		switch {
		case isBegin:
			b.begun, _, _ = strings.Cut(what, " ")
		case strings.HasPrefix(line, "error"):
			b.t.Fatal(line)
		default:
			b.done[line], b.begun = true, ""
		}
		heard = wanted != "" && strings.HasPrefix(line, wanted)
	}
	return heard
}

// stop stops every thread of the writer, reads the acknowledgements that are under way and gives what was cut in two.
func (b *board) stop() string {
	b.t.Helper()
	if err := b.cmd.Process.Signal(syscall.SIGSTOP); err != nil {
		b.t.Fatal(err)
	}
	for !stopped(b.cmd.Process.Pid) {
		time.Sleep(200 * time.Microsecond)
	}
	raw, err := b.out.SyscallConn()
	if err = errors.Join(err, b.out.SetReadDeadline(time.Time{})); err != nil {
		b.t.Fatal(err)
	}
	buf := make([]byte, 1<<16)
	for n := 1; n > 0; {
		err := raw.Read(func(fd uintptr) bool {
			n, _ = syscall.Read(int(fd), buf) // -1 when nothing waits
			return true
		})
		if err != nil {
			b.t.Fatal(err)
		}
		b.hear(string(buf[:max(n, 0)]), "")
	}
	return b.begun
}

func (b *board) resume() {
	if err := b.cmd.Process.Signal(syscall.SIGCONT); err != nil {
		b.t.Fatal(err)
	}
}

// copyImage copies what the device holds, again while the kernel is still writing to it by itself.
func (b *board) copyImage(n int) string {
	b.t.Helper()
	image := filepath.Join(b.folder, fmt.Sprintf("cut-%d.image", n))
	for range 100 {
		before := b.card.written()
		if out, err := exec.Command("cp", b.card.image, image).CombinedOutput(); err != nil {
			b.t.Fatalf("%v: %s", err, out)
		}
		if b.card.written() == before {
			return image
		}
	}
	b.t.Fatal("the device does not come to rest although its writer is stopped")
	return ""
}

// lostOn opens the journal of a copy as the daemon does and gives what was acknowledged and is not there.
func (b *board) lostOn(image string, n int) []string {
	b.t.Helper()
	c := insert(b.t, image, filepath.Join(b.folder, fmt.Sprint("cut-", n)))
	defer c.remove()
	j, err := Open(c.journal(), Options{})
	if err != nil {
		b.t.Fatalf("cut %d: %v", n, err)
	}
	if r := j.Report(); !r.OK() {
		b.t.Errorf("cut %d: the journal had to be mended: %v", n, r)
	}
	_, missing := absent(b.t, j, b.done)
	if check, err := j.Check(bg); err != nil || !check.Sound() {
		b.t.Errorf("cut %d: %+v, %v", n, check, err)
	}
	if err := j.Close(); err != nil {
		b.t.Error(err)
	}
	return missing
}

// restart puts the image of a cut into the board: what the old writer did since then never happened, and was not heard.
func (b *board) restart(image string) {
	b.t.Helper()
	b.end()
	b.card = insert(b.t, image, image+".card")
	b.start()
}
