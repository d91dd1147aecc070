package drivers

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// A script is what a story's i2c and serial sections expect, in order.
type script struct {
	t     *testing.T
	where string
	left  []scripted
	heard []byte // of a serial answer, not yet read
}

type scripted struct {
	addr         uint16
	breaks       bool
	sends, hears []byte
	reads        bool
	fails        string
	text         string
}

func init() {
	addVerb(verb{name: "i2c", act: func(t *testing.T, w *world, args []string, body string) {
		addr, err := strconv.ParseUint(args[1], 0, 16)
		if err != nil {
			t.Fatal(err)
		}
		s := scriptOf(t, w, "i2c "+args[0])
		for _, line := range lines(body) {
			s.add(uint16(addr), line)
		}
		w.env.I2C = func(n int) (i2c.Bus, error) { return scriptBus{scriptOf(t, w, fmt.Sprintf("i2c %d", n))}, nil }
	}})
	addVerb(verb{name: "serial", act: func(t *testing.T, w *world, args []string, body string) {
		s := scriptOf(t, w, "serial "+args[0])
		for _, line := range lines(body) {
			s.add(0, line)
		}
		w.env.Serial = func(path string, m SerialMode) (Line, error) {
			return scriptLine{scriptOf(t, w, "serial "+path), m.Timeout}, nil
		}
	}})
}

func scriptOf(t *testing.T, w *world, where string) *script {
	if s, ok := w.keep[where].(*script); ok {
		return s
	}
	s := &script{t: t, where: where}
	w.keep[where] = s
	w.atEnd = append(w.atEnd, func(t *testing.T) {
		if s.peek(scripted{}); len(s.left) > 0 {
			t.Errorf("%s: %d lines were never used, the first is %q", where, len(s.left), s.left[0].text)
		}
	})
	return s
}

// add reads one line of a section; "x6" at its end repeats it, "#" begins a remark.
func (s *script) add(addr uint16, line string) {
	line, _, _ = strings.Cut(line, "#")
	line = strings.TrimSpace(line)
	if line == "" {
		return
	}
	op := scripted{addr: addr, text: line}
	times := 1
	rest := line
	if i := strings.LastIndex(rest, " x"); i >= 0 {
		if n, err := strconv.Atoi(rest[i+2:]); err == nil {
			times, rest = n, rest[:i]
		}
	}
	rest, op.fails, _ = strings.Cut(rest, "!!")
	if !strings.Contains(rest, `"`) && op.fails == "" {
		rest, op.fails, _ = strings.Cut(rest, "!")
	}
	op.fails = strings.TrimSpace(op.fails)
	if strings.TrimSpace(rest) == "break" {
		op.breaks = true
	} else {
		sends, hears, reads := strings.Cut(rest, "<")
		op.sends = s.bytes(strings.TrimPrefix(strings.TrimSpace(sends), ">"))
		op.reads = reads
		if strings.TrimSpace(hears) != "nothing" {
			op.hears = s.bytes(hears)
		}
	}
	for range times {
		s.left = append(s.left, op)
	}
}

func (s *script) bytes(text string) []byte {
	text = strings.TrimSpace(text)
	if strings.HasPrefix(text, `"`) {
		plain, err := strconv.Unquote(text)
		if err != nil {
			s.t.Fatalf("%s: %q: %v", s.where, text, err)
		}
		return []byte(plain)
	}
	b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	if err != nil {
		s.t.Fatalf("%s: %q: %v", s.where, text, err)
	}
	return b
}

// peek drops answers that never come and gives the next line.
func (s *script) peek(none scripted) scripted {
	for len(s.left) > 0 && s.left[0].addr == 0 && s.left[0].reads && s.left[0].hears == nil {
		s.left = s.left[1:]
	}
	if len(s.left) == 0 {
		return none
	}
	return s.left[0]
}

func (s *script) amiss(format string, args ...any) error {
	err := fmt.Errorf("%s: "+format, append([]any{s.where}, args...)...)
	s.t.Error(err)
	return err
}

func (s scriptBus) Tx(addr uint16, w, r []byte) error {
	if len(s.left) == 0 {
		return s.amiss("nothing more was expected, got % x and %d to read", w, len(r))
	}
	op := s.left[0]
	if op.addr != addr || !bytes.Equal(op.sends, w) || op.fails == "" && len(op.hears) != len(r) {
		return s.amiss("expected %q of %#x, got % x and %d to read of %#x", op.text, op.addr, w, len(r), addr)
	}
	s.left = s.left[1:]
	copy(r, op.hears)
	if op.fails != "" {
		return errors.New(op.fails)
	}
	return nil
}

type scriptLine struct {
	*script
	timeout time.Duration
}

func (s scriptLine) Write(p []byte) (int, error) {
	op := s.peek(scripted{text: "the end"})
	if op.breaks || op.reads || !bytes.Equal(op.sends, p) {
		return 0, s.amiss("expected %q, got % x %q to send", op.text, p, p)
	}
	s.left = s.left[1:]
	if op.fails != "" {
		return 0, errors.New(op.fails)
	}
	return len(p), nil
}

func (s scriptLine) Read(p []byte) (int, error) {
	if len(s.heard) == 0 && len(s.left) > 0 && s.left[0].reads && s.left[0].hears != nil {
		s.heard, s.left = s.left[0].hears, s.left[1:]
	}
	if len(s.heard) == 0 {
		time.Sleep(s.timeout)
		return 0, nil
	}
	n := copy(p, s.heard)
	s.heard = s.heard[n:]
	return n, nil
}

func (s scriptLine) Break(time.Duration) error {
	if op := s.peek(scripted{text: "the end"}); !op.breaks {
		return s.amiss("expected %q, got a break", op.text)
	}
	s.left = s.left[1:]
	return nil
}

type scriptBus struct{ *script }

func (s scriptBus) String() string                  { return s.where }
func (s scriptBus) SetSpeed(physic.Frequency) error { return errors.New("the speed is fixed") }

func (s scriptLine) Flush() error { s.heard = nil; return nil }
func (s scriptLine) Close() error { return nil }
