package poll

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// A fakeChip stands in for a driver: what it does at its n-th question is the test's.
type fakeChip struct {
	bus, chip string
	probes    []sensors.ProbeID
	apart     bool
	waits     bool
	claims    string

	mu      sync.Mutex
	opened  []time.Time
	asked   []time.Time
	closed  int
	openErr func(n int) error
	do      func(ctx context.Context, n int) (int64, error) // thousandths of a degree; n counts from 1
	late    func(n int) []sensors.LateReading
}

func (f *fakeChip) wishes() []drivers.Wish {
	var ws []drivers.Wish
	for i, id := range f.probes {
		ws = append(ws, drivers.Wish{Driver: "fake", Probe: id, Bus: f.bus, Chip: f.chip, Channel: fmt.Sprint("channel ", i), Apart: f.apart, Waits: f.waits, Open: f.open})
	}
	return ws
}

func (f *fakeChip) open(drivers.Env, []drivers.Wish) (drivers.Source, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.opened = append(f.opened, time.Now())
	if f.openErr != nil {
		if err := f.openErr(len(f.opened)); err != nil {
			return nil, err
		}
	}
	return &fakeSource{f: f, n: len(f.asked)}, nil
}

// times lists when it was asked, in civil time.
func (f *fakeChip) times() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	var list []string
	for _, t := range f.asked {
		list = append(list, t.UTC().Format("15:04:05"))
	}
	return list
}

type fakeSource struct {
	f *fakeChip
	n int
}

func (s *fakeSource) Claims() string { return s.f.claims }

func (s *fakeSource) Close() error {
	s.f.mu.Lock()
	defer s.f.mu.Unlock()
	s.f.closed++
	return nil
}

func (s *fakeSource) Late() []sensors.LateReading {
	if s.f.late == nil {
		return nil
	}
	return s.f.late(s.n)
}

func (s *fakeSource) Poll(ctx context.Context) ([]sensors.Reading, []sensors.Fault) {
	s.f.mu.Lock()
	s.f.asked = append(s.f.asked, time.Now())
	s.n = len(s.f.asked)
	s.f.mu.Unlock()
	v, err := int64(4000), error(nil)
	if s.f.do != nil {
		v, err = s.f.do(ctx, s.n)
	}
	var rs []sensors.Reading
	var fs []sensors.Fault
	for _, id := range s.f.probes {
		if err != nil {
			fs = append(fs, sensors.Fault{Probe: id, Kind: sensors.Silent, Why: err.Error()})
		} else {
			rs = append(rs, sensors.Reading{Probe: id, Raw: v, Step: units.Whole(units.Temperature)})
		}
	}
	return rs, fs
}

var errGone = errors.New("remote I/O error")

// fakePoller makes a poller of fake chips.
func fakePoller(t *testing.T, cfg Config, chips ...*fakeChip) *Poller {
	t.Helper()
	if cfg.Garden == nil {
		cfg.Garden = &garden.Garden{}
	}
	byProbe := map[sensors.ProbeID]drivers.Wish{}
	for _, c := range chips {
		for _, w := range c.wishes() {
			byProbe[w.Probe] = w
			cfg.Garden.Probes = append(cfg.Garden.Probes, garden.Probe{ID: w.Probe, Source: table.Raw{Name: "fake"}})
		}
	}
	cfg.wish = func(p garden.Probe) (drivers.Wish, error) { return byProbe[p.ID], nil }
	if cfg.Clock == nil {
		cfg.Clock = &Clock{Root: t.TempDir(), Trust: true}
	}
	p, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// start runs the workers until the test ends, and waits for them to end.
func start(t *testing.T, p *Poller) (stop func()) {
	ctx, cancel := context.WithCancel(t.Context())
	var wg sync.WaitGroup
	for _, w := range p.Workers() {
		wg.Go(func() {
			if err := w.Run(ctx); err != nil {
				t.Errorf("%s: %v", w.Name, err)
			}
		})
	}
	return func() { cancel(); wg.Wait() }
}

// story prints a visit: "00:05 a=4 °C b silent: no answer in 10s".
func tell(v Visit) string {
	var b strings.Builder
	b.WriteString(v.Entry.At.Format("15:04"))
	if v.Entry.Late != nil {
		for _, l := range v.Entry.Late.Readings {
			fmt.Fprintf(&b, " late %s@%s", l.Probe, l.At.Format("15:04"))
		}
		return b.String()
	}
	var parts []string
	for _, r := range v.Entry.Round.Readings {
		parts = append(parts, fmt.Sprintf(" %s=%s", r.Probe, r.Unit().Number(r.Whole())))
	}
	for _, f := range v.Entry.Round.Faults {
		parts = append(parts, fmt.Sprintf(" %s %v: %s;", f.Probe, f.Kind, f.Why))
	}
	slices.Sort(parts)
	return b.String() + strings.Join(parts, "")
}

// rounds tells the next n visits.
func rounds(p *Poller, n int) []string {
	var list []string
	for range n {
		list = append(list, tell(<-p.Rounds()))
	}
	return list
}
