package drivers

import (
	"bytes"
	"encoding/binary"
	"errors"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors"
)

// A slaveLine is a serial line with a scripted slave at its far end; it may be slow, deaf, echoing or hanging up.
type slaveLine struct {
	mu       sync.Mutex
	answer   func(request []byte) (reply []byte, after time.Duration)
	waiting  []slaveWord
	requests [][]byte
	broken   error
}

type slaveWord struct {
	at    time.Time
	bytes []byte
}

func (l *slaveLine) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.broken != nil {
		return 0, l.broken
	}
	l.requests = append(l.requests, bytes.Clone(p))
	if reply, after := l.answer(p); reply != nil {
		l.waiting = append(l.waiting, slaveWord{time.Now().Add(after), reply})
	}
	return len(p), nil
}

func (l *slaveLine) Read(p []byte) (int, error) {
	end := time.Now().Add(readSlice)
	for {
		l.mu.Lock()
		if l.broken != nil {
			defer l.mu.Unlock()
			return 0, l.broken
		}
		if len(l.waiting) > 0 && !time.Now().Before(l.waiting[0].at) {
			n := copy(p, l.waiting[0].bytes)
			l.waiting = l.waiting[1:]
			l.mu.Unlock()
			return n, nil
		}
		l.mu.Unlock()
		if !time.Now().Before(end) {
			return 0, nil
		}
		time.Sleep(time.Millisecond)
	}
}

// Flush drops what has arrived by now; what is still under way comes later, as on a real line.
func (l *slaveLine) Flush() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	for len(l.waiting) > 0 && !time.Now().Before(l.waiting[0].at) {
		l.waiting = l.waiting[1:]
	}
	return l.broken
}

// replyFrom makes an honest answer out of registers.
func replyFrom(request []byte, words map[uint16]uint16) []byte {
	first, n := binary.BigEndian.Uint16(request[2:]), binary.BigEndian.Uint16(request[4:])
	f := []byte{request[0], request[1], byte(2 * n)}
	for r := first; r < first+n; r++ {
		f = binary.BigEndian.AppendUint16(f, words[r])
	}
	crc := crcModbus(f)
	return append(f, byte(crc), byte(crc>>8))
}

func serialEnv(l Line) Env {
	return Env{Serial: func(string, SerialMode) (Line, error) { return l, nil }}
}

// TestFieldLogModbus replays what RS-485 lines have done to keepers.
func TestFieldLogModbus(t *testing.T) {
	words := map[uint16]uint16{0: 350, 1: 215}
	t.Run("M1_late_answer_never_shifts_registers", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			late := true
			l := &slaveLine{}
			l.answer = func(q []byte) ([]byte, time.Duration) {
				if late {
					late = false
					return replyFrom(q, map[uint16]uint16{0: 1, 1: 2}), 400 * time.Millisecond
				}
				return replyFrom(q, words), 20 * time.Millisecond
			}
			s := opened(t, serialEnv(l), modbusGarden(onLine, "timeout = \"300 ms\"\n"))
			if _, fs := s.Poll(t.Context()); len(fs) != 2 || fs[0].Kind != sensors.Silent {
				t.Fatalf("the late answer: %v", fs)
			}
			time.Sleep(time.Second) // the late answer arrives between rounds
			for range 5 {
				if diff := cmp.Diff("D7-m 350 counts\nD7-t 21.5 °C", saysOf(t, s)); diff != "" {
					t.Fatal(diff)
				}
			}
			if len(l.requests) != 6 {
				t.Errorf("%d requests in 6 rounds: one block each", len(l.requests))
			}
		})
	})
	t.Run("M1_late_answer_to_another_unit_is_refused", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			// Nothing is dropped by the flush here: unit 1's answer arrives after unit 2 was asked.
			l := &slaveLine{answer: func(q []byte) ([]byte, time.Duration) {
				q = bytes.Clone(q)
				q[0] = 1
				return replyFrom(q, words), time.Millisecond
			}}
			s := opened(t, serialEnv(l), modbusGarden(onLine, "unit = 2\n"))
			if _, fs := s.Poll(t.Context()); len(fs) != 2 || fs[0].Kind != sensors.Garbled {
				t.Errorf("%v", fs)
			}
		})
	})
	t.Run("M2_a_device_that_needs_450_ms_is_waited_for", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			l := &slaveLine{answer: func(q []byte) ([]byte, time.Duration) { return replyFrom(q, words), 450 * time.Millisecond }}
			s := opened(t, serialEnv(l), modbusGarden(onLine, ""))
			for range 20 {
				if got := saysOf(t, s); got != "D7-m 350 counts\nD7-t 21.5 °C" {
					t.Fatal(got)
				}
			}
		})
	})
	t.Run("M4_registers_count_from_nought_and_the_block_is_shown", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			l := &slaveLine{answer: func(q []byte) ([]byte, time.Duration) { return replyFrom(q, words), 0 }}
			var out strings.Builder
			env := serialEnv(l)
			env.Log = slog.New(slog.NewTextHandler(&out, nil))
			s := opened(t, env, modbusGarden(onLine, ""))
			s.Poll(t.Context())
			s.Poll(t.Context())
			if diff := cmp.Diff(unhex(t, "01040000000271cb"), l.requests[0]); diff != "" { // the specification's numbering
				t.Error(diff)
			}
			if n := strings.Count(out.String(), "raw=\"01 5e 00 d7\""); n != 1 {
				t.Errorf("the raw block is shown %d times, want once:\n%s", n, out.String())
			}
		})
	})
	t.Run("M6_echo_of_the_adapter", func(t *testing.T) {
		for _, with := range []struct {
			name  string
			reply bool
		}{{"and then the answer", true}, {"and nothing more", false}} {
			synctest.Test(t, func(t *testing.T) {
				l := &slaveLine{answer: func(q []byte) ([]byte, time.Duration) {
					if with.reply {
						return append(bytes.Clone(q), replyFrom(q, words)...), 0
					}
					return bytes.Clone(q), 0
				}}
				_, fs := opened(t, serialEnv(l), modbusGarden(onLine, "")).Poll(t.Context())
				if len(fs) != 2 || fs[0].Kind != sensors.Garbled || !strings.Contains(fs[0].Why, "echo") {
					t.Errorf("echo %s: %v", with.name, fs)
				}
			})
		}
	})
	t.Run("M8_absent_at_start_is_normal", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			l := &slaveLine{answer: func(q []byte) ([]byte, time.Duration) { return replyFrom(q, words), 0 }}
			there := false
			env := Env{Serial: func(path string, m SerialMode) (Line, error) {
				if !there {
					return nil, errors.New("no such file or directory")
				}
				return l, nil
			}}
			s := opened(t, env, modbusGarden(onLine, ""))
			for range 3 {
				if _, fs := s.Poll(t.Context()); len(fs) != 2 || fs[0].Kind != sensors.Silent {
					t.Fatalf("%v", fs)
				}
			}
			there = true
			if got := saysOf(t, s); got != "D7-m 350 counts\nD7-t 21.5 °C" {
				t.Errorf("the adapter is plugged in: %q", got)
			}
		})
	})
	t.Run("M10_two_slaves_at_one_address", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			l := &slaveLine{answer: func(q []byte) ([]byte, time.Duration) {
				a, b := replyFrom(q, words), replyFrom(q, map[uint16]uint16{0: 77, 1: 11})
				var mixed []byte
				for i := range a {
					mixed = append(mixed, a[i], b[i])
				}
				return mixed, 0
			}}
			if _, fs := opened(t, serialEnv(l), modbusGarden(onLine, "")).Poll(t.Context()); len(fs) != 2 || fs[0].Kind != sensors.Garbled {
				t.Errorf("%v", fs)
			}
		})
	})
}

func (l *slaveLine) Break(time.Duration) error { return nil }
func (l *slaveLine) Close() error              { return nil }
