package drivers

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"log"
	"log/slog"
	"math"
	"net"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/simonvetter/modbus"

	"lathwatch/sensors"
)

func modbusGarden(at, more string) string {
	block := func(id, measures, rest string) string {
		return "[[probe]]\nid = \"" + id + "\"\nmeasures = \"" + measures + "\"\n[probe.modbus]\nat = \"" + at + "\"\nfunction = 4\n" + more + rest
	}
	return block("D7-m", "pot-moisture", "register = 0\ncount = \"1 count\"\n") +
		block("D7-t", "pot-temperature", "register = 1\ntype = \"s16\"\ncount = \"0.1 °C\"\n")
}

// registerServer is the slave side of an outside library, so that both ends were not written by one hand.
type registerServer struct {
	modbus.RequestHandler
	words []uint16
}

func (s *registerServer) HandleInputRegisters(q *modbus.InputRegistersRequest) ([]uint16, error) {
	if int(q.Addr)+int(q.Quantity) > len(s.words) || q.UnitId != 1 {
		return nil, modbus.ErrIllegalDataAddress
	}
	return s.words[q.Addr : q.Addr+q.Quantity], nil
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func TestModbusTCPAgainstAnOutsideSlave(t *testing.T) {
	at := "tcp://" + freeAddress(t)
	slave := &registerServer{words: []uint16{215, 0xFFCE}}
	server, err := modbus.NewServer(&modbus.ServerConfiguration{URL: at, Logger: log.New(io.Discard, "", 0)}, slave)
	if err != nil {
		t.Fatal(err)
	}
	s := opened(t, Env{}, modbusGarden(at, "timeout = \"2 s\"\n"))
	defer s.Close()
	rs, fs := s.Poll(t.Context())
	if len(rs) != 0 || len(fs) != 2 || fs[0].Kind != sensors.Silent { // nobody listens yet
		t.Fatalf("%v, %v", rs, fs)
	}
	if err := server.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { server.Stop() })
	if diff := cmp.Diff("D7-m 215 counts\nD7-t -5 °C", saysOf(t, s)); diff != "" {
		t.Error(diff)
	}
	missing := opened(t, Env{}, strings.Replace(modbusGarden(at, ""), "register = 1\n", "register = 2\n", 1))
	defer missing.Close()
	if _, fs := missing.Poll(t.Context()); len(fs) != 2 || !strings.Contains(fs[0].Why, "no such register") {
		t.Errorf("a register that is not there: %v", fs)
	}
}

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

func (l *slaveLine) Break(time.Duration) error { return nil }
func (l *slaveLine) Close() error              { return nil }

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

const onLine = "/dev/serial/by-id/usb-rs485"

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

func TestModbusRTUCarriedOverTCP(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	go func() {
		for round := 0; ; round++ {
			c, err := l.Accept()
			if err != nil {
				return
			}
			b := make([]byte, 8)
			if _, err := io.ReadFull(c, b); err == nil && round > 0 { // the first connection hangs up without an answer
				c.Write(replyFrom(b, map[uint16]uint16{0: 350, 1: 215}))
			}
			c.Close()
		}
	}()
	s := opened(t, Env{}, modbusGarden("rtuovertcp://"+l.Addr().String(), ""))
	defer s.Close()
	if _, fs := s.Poll(t.Context()); len(fs) != 2 || fs[0].Kind != sensors.Silent {
		t.Fatalf("a hang-up is %v", fs)
	}
	if diff := cmp.Diff("D7-m 350 counts\nD7-t 21.5 °C", saysOf(t, s)); diff != "" {
		t.Error(diff)
	}
}

func TestModbusWordsAndTypes(t *testing.T) {
	register := 0
	for _, c := range []struct {
		kind, order, bytes string
		sentinels          []int64
		want               int64
		fault              sensors.FaultKind
	}{
		{kind: "u16", bytes: "ffce", want: 65486},
		{kind: "s16", bytes: "ffce", want: -50},
		{kind: "u32", bytes: "00010002", want: 65538},
		{kind: "u32", order: "low-first", bytes: "00020001", want: 65538},
		{kind: "s32", bytes: "ffffffce", want: -50},
		{kind: "f32", bytes: "41ac0000", want: 215000}, // 21.5
		{kind: "f32", order: "low-first", bytes: "000041ac", want: 215000},
		{kind: "f32", bytes: "7fc00000", fault: sensors.Implausible},
		{kind: "f32", bytes: "7f800000", fault: sensors.Implausible},
		{kind: "f32", bytes: "ff800000", fault: sensors.Implausible},
		{kind: "s16", bytes: "7fff", sentinels: []int64{0x7FFF}, fault: sensors.Implausible},
		{kind: "u32", bytes: "0001", fault: sensors.Garbled},
	} {
		of := modbusTable{Register: &register, Type: c.kind, WordOrder: c.order}
		of.Sentinels = c.sentinels
		if err := of.Count.UnmarshalText([]byte("1 count")); err != nil {
			t.Fatal(err)
		}
		a := of.decode(unhex(t, c.bytes))
		switch f := faultOf("x", orNone(a.err)); {
		case c.fault != 0 && (a.err == nil || f.Kind != c.fault):
			t.Errorf("%s %s: %v, want %v", c.kind, c.bytes, a, c.fault)
		case c.fault == 0 && (a.err != nil || a.raw != c.want):
			t.Errorf("%s %s: %v, want %d", c.kind, c.bytes, a, c.want)
		}
	}
}

func orNone(err error) error {
	if err == nil {
		return errors.New("none")
	}
	return err
}

func TestModbusRegistersTooFarApartAreRefused(t *testing.T) {
	var wishes []Wish
	for _, p := range probesOf(t, strings.Replace(modbusGarden(onLine, ""), "register = 1\n", "register = 125\n", 1)) {
		w, err := ParseProbe(p)
		if err != nil {
			t.Fatal(err)
		}
		wishes = append(wishes, w)
	}
	if _, err := wishes[0].Open(Env{}, wishes); err == nil || !strings.Contains(err.Error(), "0 to 125") {
		t.Errorf("126 registers in one request: %v", err)
	}
}

func FuzzModbusReply(f *testing.F) {
	q := modbusAsk{unit: 1, function: 4, first: 0, count: 2}
	for _, s := range []string{"01040400d7ffce8bd8", "018402c2c1", "01040000000271cb", "0104", "", "0104fa", "02040400d7ffce"} {
		f.Add(unhex(f, s))
	}
	f.Fuzz(func(t *testing.T, got []byte) {
		if whole := rtuWhole(q.frame(), got); whole < 5 || whole > 260 {
			t.Errorf("a frame of %d bytes", whole)
		}
		data, err := rtuData(q, got)
		if err != nil {
			return
		}
		if len(data) != 4 || crcModbus(got[:7]) != uint16(got[7])|uint16(got[8])<<8 || got[0] != 1 || got[1] != 4 {
			t.Errorf("% x was taken for % x", got, data)
		}
		register := 0
		for _, kind := range []string{"u16", "s16", "u32", "s32", "f32"} {
			of := modbusTable{Register: &register, Type: kind}
			_ = of.Count.UnmarshalText([]byte("0.1 °C"))
			if a := of.decode(data); a.err == nil && math.Abs(float64(a.raw)) > 1e14 {
				t.Errorf("%s of % x is %d", kind, data, a.raw)
			}
		}
	})
}
