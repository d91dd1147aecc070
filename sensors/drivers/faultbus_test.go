package drivers

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"lathwatch/sensors"
)

// A faultBus is an I2C bus whose every transfer is a function: the n-th call may fail, hang, repeat or lie.
type faultBus struct {
	mu    sync.Mutex
	calls int
	wrote [][]byte
	tx    func(call int, addr uint16, w, r []byte) error
}

func (b *faultBus) Tx(addr uint16, w, r []byte) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.calls++
	b.wrote = append(b.wrote, bytes.Clone(w))
	return b.tx(b.calls, addr, w, r)
}

func (b *faultBus) SetSpeed(physic.Frequency) error { return errors.New("the speed is fixed") }
func (b *faultBus) Close() error                    { return nil }
func (b *faultBus) String() string                  { return "faultBus" }

var _ i2c.BusCloser = (*faultBus)(nil)

var errGone = errors.New("sysfs-i2c: remote I/O error")

// on opens the first source of a garden on a bus.
func on(t *testing.T, bus i2c.Bus, env Env, garden string) Source {
	t.Helper()
	env.I2C = func(int) (i2c.Bus, error) { return bus, nil }
	return opened(t, env, garden)
}

func opened(t *testing.T, env Env, garden string) Source {
	t.Helper()
	var wishes []Wish
	for _, p := range probesOf(t, garden) {
		w, err := ParseProbe(p)
		if err != nil {
			t.Fatal(err)
		}
		wishes = append(wishes, w)
	}
	groups, err := Group(wishes)
	if err != nil {
		t.Fatal(err)
	}
	s, err := groups[0][0].Open(env, groups[0])
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// saysOf polls once and prints what came.
func saysOf(t *testing.T, s Source) string {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	rs, fs := s.Poll(ctx)
	return strings.Join(said(rs, fs, nil, nil, false), "\n")
}

func soleFault(t *testing.T, s Source) sensors.Fault {
	t.Helper()
	rs, fs := s.Poll(t.Context())
	if len(rs) != 0 || len(fs) != 1 {
		t.Fatalf("want one fault and no reading, got %v and %v", rs, fs)
	}
	return fs[0]
}
