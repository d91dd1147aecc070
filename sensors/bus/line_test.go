package bus

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/creack/pty"

	"lathwatch/sensors/drivers"
)

var plain = drivers.SerialMode{Baud: 9600, DataBits: 8, Parity: 'N', StopBits: 1, Timeout: 50 * time.Millisecond}

// adapter is a pseudo-terminal reached, like a USB adapter, by a stable name.
func adapter(t *testing.T, byID string) (master *os.File) {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Skipf("left out: no pseudo-terminal here: %v", err)
	}
	name := slave.Name() // stays open: a master whose other end was never open reads an error
	os.Remove(byID)
	if err := errors.Join(os.MkdirAll(filepath.Dir(byID), 0o755), os.Symlink(name, byID)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { master.Close(); slave.Close() })
	return master
}

// answers writes reply after each request of n bytes.
func answers(master *os.File, n int, reply string) {
	b := make([]byte, n)
	for {
		if _, err := io.ReadFull(master, b); err != nil {
			return
		}
		if _, err := io.WriteString(master, reply); err != nil {
			return
		}
	}
}

// talk writes and reads until want bytes came or time is up.
func talk(l drivers.Line, ask string, want int) (string, error) {
	if _, err := io.WriteString(l, ask); err != nil {
		return "", err
	}
	var got []byte
	for end := time.Now().Add(2 * time.Second); len(got) < want && time.Now().Before(end); {
		b := make([]byte, 64)
		n, err := l.Read(b)
		if err != nil {
			return string(got), err
		}
		got = append(got, b[:n]...)
	}
	return string(got), nil
}

func TestFieldLogLine(t *testing.T) {
	t.Run("M7_adapter_pulled_out_and_back_under_another_number", func(t *testing.T) {
		root := t.TempDir()
		byID := filepath.Join(root, "dev/serial/by-id/usb-rs485")
		first := adapter(t, byID)
		go answers(first, 3, "one")
		b := New(Options{Root: root})
		defer b.Close()
		l, err := b.Serial("/dev/serial/by-id/usb-rs485", plain)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := talk(l, "ask", 3); got != "one" || err != nil {
			t.Fatalf("%q, %v", got, err)
		}
		first.Close()
		os.Remove(byID)
		if got, err := talk(l, "ask", 3); err == nil {
			t.Errorf("pulled out it says %q", got)
		}
		second := adapter(t, byID)
		go answers(second, 3, "two")
		l.(*line).mu.Lock()
		l.(*line).retryAt = time.Time{} // as after the pause
		l.(*line).mu.Unlock()
		if got, err := talk(l, "ask", 3); got != "two" || err != nil {
			t.Errorf("plugged in again: %q, %v", got, err)
		}
	})
	t.Run("M7_absent_adapter_costs_no_work", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			tries := 0
			b := New(Options{OpenLine: func(string, drivers.SerialMode) (drivers.Line, error) { tries++; return nil, os.ErrNotExist }})
			l, _ := b.Serial("/dev/serial/by-id/none", plain)
			for range 6000 { // a caller that asks again and again for a minute
				if _, err := l.Read(make([]byte, 8)); !errors.Is(err, os.ErrNotExist) {
					t.Fatalf("absent: %v", err)
				}
				time.Sleep(10 * time.Millisecond)
			}
			if tries > 13 {
				t.Errorf("opened %d times in a minute", tries)
			}
		})
	})
	t.Run("M8_absent_at_start", func(t *testing.T) {
		b := New(Options{Root: t.TempDir()})
		l, err := b.Serial("/dev/serial/by-id/none", plain)
		if err != nil {
			t.Fatalf("lending an absent line: %v", err)
		}
		if _, err := l.Write([]byte("x")); err == nil || !strings.Contains(err.Error(), "opening line /dev/serial/by-id/none") {
			t.Errorf("writing to it: %v", err)
		}
		if err := errors.Join(l.Close(), b.Close()); err != nil {
			t.Errorf("closing it: %v", err)
		}
	})
}

func TestSevenBitEvenLineWithABreak(t *testing.T) {
	root := t.TempDir()
	master := adapter(t, filepath.Join(root, "dev/sdi"))
	go answers(master, 3, "00001\r\n")
	b := New(Options{Root: root})
	defer b.Close()
	l, err := b.Serial("/dev/sdi", drivers.SerialMode{Baud: 1200, DataBits: 7, Parity: 'E', StopBits: 1, Timeout: 20 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Break(12 * time.Millisecond); errors.Is(err, syscall.ENOSYS) {
		t.Log("this emulator knows no break")
	} else if err != nil {
		t.Errorf("break: %v", err)
	}
	if got, err := talk(l, "0M!", 7); got != "00001\r\n" || err != nil {
		t.Errorf("%q, %v", got, err)
	}
	if n, err := l.Read(make([]byte, 8)); n != 0 || err != nil {
		t.Errorf("a read that times out: %d, %v", n, err)
	}
}

func TestFlushDropsWhatWasNotRead(t *testing.T) {
	root := t.TempDir()
	master := adapter(t, filepath.Join(root, "dev/line"))
	b := New(Options{Root: root})
	defer b.Close()
	l, err := b.Serial("/dev/line", plain)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.Read(make([]byte, 1)); err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(master, "late answer"); err != nil {
		t.Fatal(err)
	}
	time.Sleep(20 * time.Millisecond)
	if err := l.Flush(); err != nil {
		t.Fatal(err)
	}
	if n, err := l.Read(make([]byte, 64)); n != 0 || err != nil {
		t.Errorf("after a flush %d bytes are left (%v)", n, err)
	}
}

func TestTwoBorrowersMustAgreeOnALine(t *testing.T) {
	b := New(Options{Root: t.TempDir()})
	if _, err := b.Serial("/dev/line", plain); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Serial("/dev/line", plain); err != nil {
		t.Errorf("the same again: %v", err)
	}
	other := plain
	other.Baud = 4800
	if _, err := b.Serial("/dev/line", other); err == nil || !strings.Contains(err.Error(), "9600 8N1") || !strings.Contains(err.Error(), "4800 8N1") {
		t.Errorf("two speeds on one line: %v", err)
	}
}
