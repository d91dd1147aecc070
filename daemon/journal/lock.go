package journal

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"syscall"
)

// A lockFile lies beside the journal and names the process that has it. The lock itself goes with the process, however it ends.
type lockFile struct{ f *os.File }

func lockBeside(path string) (*lockFile, error) {
	f, err := os.OpenFile(path+".lock", os.O_RDWR|os.O_CREATE, private)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		defer f.Close()
		if !errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, err
		}
		return nil, fmt.Errorf("%w by process %s", ErrInUse, holder(f))
	}
	if err := f.Truncate(0); err == nil {
		_, _ = f.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0) // a full card may refuse the number, not the lock
	}
	return &lockFile{f}, nil
}

func holder(f *os.File) string {
	b := make([]byte, 32)
	n, _ := f.ReadAt(b, 0)
	if s := strings.TrimSpace(string(b[:n])); s != "" {
		return s
	}
	return "unknown"
}

func (l *lockFile) release() {
	if l != nil {
		_ = l.f.Close()
	}
}

// heldBy reports whether another process has the journal, without taking it.
func heldBy(path string) (pid string, held bool) {
	f, err := os.Open(path + ".lock")
	if err != nil {
		return "", false
	}
	defer f.Close()
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_SH|syscall.LOCK_NB); errors.Is(err, syscall.EWOULDBLOCK) {
		return holder(f), true
	}
	return "", false
}
