package journal

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A card is a file system on an image, behind a loop device of its own.
type card struct {
	t            *testing.T
	image, where string
	device       string // loop3
}

const cardBytes = 64 << 20

// makeImage formats an image as a card is: ext4 with blocks of 4 KiB.
func makeImage(image string) error {
	f, err := os.Create(image)
	if err != nil {
		return err
	}
	if err := errors.Join(f.Truncate(cardBytes), f.Close()); err != nil {
		return err
	}
	return command("mkfs.ext4", "-q", "-F", "-b", "4096", "-E", "lazy_itable_init=0,lazy_journal_init=0,nodiscard", image)
}

func command(name string, args ...string) error {
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		return fmt.Errorf("%s: %w: %s", name, err, bytes.TrimSpace(out))
	}
	return nil
}

// mountImage mounts an image so that the kernel writes back as late as it can: what is safe is what the writer itself has synced.
func mountImage(image, where string) error {
	if err := os.MkdirAll(where, 0o700); err != nil {
		return err
	}
	return command("mount", "-t", "ext4", "-o", "loop,noatime,commit=600,noauto_da_alloc", image, where)
}

func insert(t *testing.T, image, where string) *card {
	t.Helper()
	if err := mountImage(image, where); err != nil {
		t.Fatal(err)
	}
	c := &card{t: t, image: image, where: where}
	t.Cleanup(c.remove)
	mounts, err := os.ReadFile("/proc/self/mounts")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(mounts)) {
		if f := strings.Fields(line); len(f) > 1 && f[1] == where {
			c.device = filepath.Base(f[0])
		}
	}
	return c
}

// remove takes the card out; twice is once.
func (c *card) remove() {
	if c.where == "" {
		return
	}
	if err := command("umount", c.where); err != nil {
		c.t.Error(err)
		_ = command("umount", "-l", c.where)
	}
	c.where = ""
}

func (c *card) journal() string { return filepath.Join(c.where, "j.journal") }

// written is what the kernel counts of the device: writes done and writes under way. It does not change while nobody writes.
func (c *card) written() string {
	c.t.Helper()
	b, err := os.ReadFile("/sys/block/" + c.device + "/stat")
	f := strings.Fields(string(b))
	if err != nil || len(f) < 9 {
		c.t.Fatalf("what was written to %s: %q, %v", c.device, b, err)
	}
	return f[4] + " " + f[6] + " " + f[8]
}

// stopped reports whether every thread of a process has stopped: one that waits for the card stops when it comes back.
func stopped(pid int) bool {
	threads, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/stat", pid))
	for _, path := range threads {
		b, err := os.ReadFile(path)
		if err != nil {
			continue
		}
		_, after, ok := strings.Cut(string(b), ") ")
		if !ok || after[0] != 'T' {
			return false
		}
	}
	return len(threads) > 0
}

// needCards skips where no file system can be mounted from an image. A program that is missing is a failure where all must be there.
func needCards(t *testing.T) {
	t.Helper()
	if os.Getuid() != 0 {
		t.Skip("mounting an image needs root")
	}
	for _, program := range []string{"mkfs.ext4", "mount", "umount", "cp"} {
		if _, err := exec.LookPath(program); err != nil {
			if os.Getenv("LATHWATCH_REQUIRE") == "1" {
				t.Fatalf("%s is not in PATH", program)
			}
			t.Skipf("%s is not in PATH", program)
		}
	}
	if err := exec.Command(os.Args[0], "-test.run=^$").Run(); errors.Is(err, syscall.ENOEXEC) {
		t.Skip("an emulator of one process cannot start the test again")
	}
	folder := dir(t)
	image, where := filepath.Join(folder, "try.image"), filepath.Join(folder, "try")
	if err := makeImage(image); err != nil {
		t.Fatal(err)
	}
	if err := mountImage(image, where); err != nil {
		t.Skipf("no image can be mounted here: %v", err)
	}
	if err := command("umount", where); err != nil {
		t.Fatal(err)
	}
}
