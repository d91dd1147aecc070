package drivers

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"time"
)

// Times of the specification, section 7: a break of 12 ms wakes the sensors, 8.33 ms of marking follow, and an answer begins
// within 15 ms. Adapters on USB add their own, so more is granted.
const (
	sdiBreak   = 12 * time.Millisecond
	sdiMark    = 9 * time.Millisecond
	sdiAnswer  = 150 * time.Millisecond // to the first character
	sdiLongest = 900 * time.Millisecond // 82 characters at 1200 baud and their gaps
	sdiTries   = 3
)

func openSDI12(env Env, wishes []Wish) (Source, error) {
	s := &sdiSensor{env: env, of: wishes[0].Of.(sdiTable)}
	return &chip[*sdiTalk]{wishes: wishes, make: s.open, ask: s.ask, drop: func(t *sdiTalk) { t.line.Close() }}, nil
}

// An sdiSensor is one address on a line.
type sdiSensor struct {
	env   Env
	of    sdiTable
	named bool
}

func (s *sdiSensor) open(context.Context) (*sdiTalk, error) {
	if s.env.Serial == nil {
		return nil, fmt.Errorf("opening %s: no serial lines here", s.of.Line)
	}
	line, err := s.env.Serial(s.of.Line, SerialMode{Baud: 1200, DataBits: 7, Parity: 'E', StopBits: 1, Timeout: readSlice})
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", s.of.Line, err)
	}
	return &sdiTalk{line: line, address: s.of.Address}, nil
}

// ask makes each wanted measurement once and hands out its values.
func (s *sdiSensor) ask(ctx context.Context, t *sdiTalk, wishes []Wish) []answer {
	if err := s.name(ctx, t); err != nil {
		return amiss(len(wishes), err)
	}
	type result struct {
		values []int64
		err    error
	}
	done := map[string]result{} // by verb
	answers := make([]answer, len(wishes))
	for i, w := range wishes {
		of := w.Of.(sdiTable)
		r, asked := done[of.verb()]
		if !asked {
			r.values, r.err = t.measure(ctx, of)
			done[of.verb()] = r
		}
		if answers[i] = (answer{err: r.err}); r.err == nil {
			answers[i] = of.answer(r.values)
		}
	}
	return answers
}

// name asks once who is there, for the log.
func (s *sdiSensor) name(ctx context.Context, t *sdiTalk) error {
	if s.named {
		return nil
	}
	who, err := t.command(ctx, "I")
	if err != nil {
		return err
	}
	s.named = true
	if s.env.Log != nil {
		s.env.Log.Info("sensor found", "line", s.of.Line, "address", s.of.Address, "is", who)
	}
	return nil
}

// An sdiTalk is a conversation with one sensor.
type sdiTalk struct {
	line    Line
	address string
	over    []byte // heard behind the end of a line: a call for service may follow the promise at once
}

// measure starts a measurement, waits for it and collects its values.
func (t *sdiTalk) measure(ctx context.Context, of sdiTable) ([]int64, error) {
	rest, err := t.command(ctx, of.verb())
	if err != nil {
		return nil, err
	}
	wait, n, err := sdiPromise(rest, of.Command)
	if err != nil {
		return nil, err
	}
	if n == 0 {
		return nil, silent("the sensor has nothing to give")
	}
	if end, ok := ctx.Deadline(); ok && time.Until(end) < wait {
		return nil, silent("the sensor wants %s, longer than a round allows", wait)
	}
	if err := t.await(ctx, of.Command, wait); err != nil {
		return nil, err
	}
	var values []int64
	for d := 0; len(values) < n && d <= 9; d++ {
		some, err := t.data(ctx, d, of.CRC)
		if err != nil {
			return nil, err
		}
		if len(some) == 0 {
			return nil, silent("the sensor gave up its measurement")
		}
		values = append(values, some...)
	}
	if len(values) != n {
		return nil, garbled("%d values where %d were promised", len(values), n)
	}
	return values, nil
}

// data asks for one part of the values, again if it comes damaged: the sensor keeps them until the next measurement.
func (t *sdiTalk) data(ctx context.Context, part int, crc bool) (values []int64, err error) {
	for range sdiTries {
		rest, lost := t.command(ctx, fmt.Sprintf("D%d", part))
		if lost != nil {
			return nil, lost
		}
		if values, err = sdiValues(rest, t.address, crc); err == nil {
			return values, nil
		}
	}
	return nil, err
}

// await lets a measurement run. After M the sensor asks for service when it is ready; after C it never does.
func (t *sdiTalk) await(ctx context.Context, command string, wait time.Duration) error {
	if wait == 0 {
		return nil
	}
	if command[0] == 'C' {
		return pause(ctx, wait)
	}
	raw, err := t.hear(ctx, wait, sdiAnswer)
	if err != nil || raw == "" {
		return err // nobody called: the time is up, the values may still be there
	}
	rest, err := sdiReply(raw, t.address)
	if err == nil && rest != "" {
		err = garbled("%q is no request for service", raw)
	}
	return err
}

// command sends one command and gives the answer without its address, in at most three tries, each with a break.
func (t *sdiTalk) command(ctx context.Context, verb string) (string, error) {
	var last error
	for range sdiTries {
		raw, err := t.exchange(ctx, t.address+verb+"!")
		if err != nil {
			return "", err
		}
		if raw == "" {
			if last == nil {
				last = silent("no answer from sensor %s", t.address)
			}
			continue
		}
		var rest string
		if rest, last = sdiReply(raw, t.address); last == nil {
			return rest, nil
		}
	}
	return "", last
}

func (t *sdiTalk) exchange(ctx context.Context, command string) (string, error) {
	t.over = nil
	if err := t.line.Flush(); err != nil {
		return "", fmt.Errorf("flushing the line: %w", err)
	}
	if err := t.line.Break(sdiBreak); err != nil {
		return "", fmt.Errorf("waking the sensors: %w", err)
	}
	if err := pause(ctx, sdiMark); err != nil {
		return "", err
	}
	if _, err := t.line.Write([]byte(command)); err != nil {
		return "", fmt.Errorf("writing to the line: %w", err)
	}
	sending := time.Duration(len(command)) * 9 * time.Millisecond
	raw, err := t.hear(ctx, sending+sdiAnswer, sdiLongest)
	// One wire carries both directions, and a plain level shifter hears itself.
	return strings.TrimPrefix(raw, command), err
}

// hear reads one line: at most first until its first character, and at most rest after it. Nothing heard is "".
func (t *sdiTalk) hear(ctx context.Context, first, rest time.Duration) (string, error) {
	end := time.Now().Add(first)
	got := t.over
	t.over = nil
	for {
		if i := bytes.IndexByte(got, '\n'); i >= 0 {
			t.over = got[i+1:]
			return string(got[:i+1]), nil
		}
		if !time.Now().Before(end) || len(got) > 200 {
			return string(got), nil
		}
		if err := ctx.Err(); err != nil {
			return "", err
		}
		var b [64]byte
		n, err := t.line.Read(b[:])
		if err != nil {
			return "", fmt.Errorf("reading the line: %w", err)
		}
		if n > 0 && len(got) == 0 {
			end = time.Now().Add(rest)
		}
		got = append(got, b[:n]...)
	}
}
