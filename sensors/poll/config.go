package poll

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
)

// Config is what a Poller is made of. Only the garden is needed.
type Config struct {
	Garden *garden.Garden
	Env    drivers.Env
	Every  time.Duration          // between rounds, whole minutes from 1 to 60; default the site's, else 5
	Answer time.Duration          // longest wait for one source; default 10 s
	Round  time.Duration          // longest wait for a whole round; default 4/5 of Every, at most 2 min
	Clock  *Clock                 // default this board's
	Door   *drivers.Door          // what every reading is held against; nil: nothing
	say    func(bus, text string) // Env.Notice as given
	unsay  func(bus, text string) // Env.Mended as given
	// wish turns a probe into its wish; tests replace it.
	wish func(garden.Probe) (drivers.Wish, error)
}

// A Worker is one goroutine of the roster.
type Worker struct {
	Name  string
	Run   func(ctx context.Context) error // until ctx ends; trouble on a bus is no error
	Beat  func() time.Time                // when it was last alive; zero before it runs
	Limit time.Duration                   // longest time between two beats
	Hung  func() time.Time                // since when a chip of this bus has not come back, zero: all have; nil: no bus
}

// A Poller walks rounds. Start all its Workers.
type Poller struct {
	cfg    Config
	clock  *Clock
	buses  []*bus
	out    chan Visit
	beat   beat
	seq    uint64
	told   map[string]time.Time // notices by bus and text
	mu     sync.Mutex           // guards told and claims
	claims map[string]*slot
}

// New checks the garden's probes and makes the workers; nothing is opened yet. It refuses a probe id given twice, two paths
// to one sensor and two owners of one chip, naming both.
func New(cfg Config) (*Poller, error) {
	if err := cfg.fill(); err != nil {
		return nil, err
	}
	p := &Poller{cfg: cfg, clock: cfg.Clock, out: make(chan Visit, 16), told: map[string]time.Time{}, claims: map[string]*slot{}}
	p.cfg.say = cfg.Env.Notice
	p.cfg.Env.Every = cfg.Every
	p.cfg.Env.Notice = p.notice
	p.cfg.unsay, p.cfg.Env.Mended = cfg.Env.Mended, p.mended
	wishes, err := cfg.wishes()
	if err != nil {
		return nil, err
	}
	groups, err := drivers.Group(wishes)
	if err != nil {
		return nil, err
	}
	for _, g := range groups {
		if len(p.buses) == 0 || p.buses[len(p.buses)-1].name != g[0].Bus {
			p.buses = append(p.buses, &bus{p: p, name: g[0].Bus, orders: make(chan order, 8)})
		}
		b := p.buses[len(p.buses)-1]
		s := &slot{wishes: g}
		b.slots = append(b.slots, s)
		p.claims[g[0].Chip] = s
	}
	return p, nil
}

func (cfg *Config) fill() error {
	if cfg.Garden == nil {
		cfg.Garden = &garden.Garden{}
	}
	cfg.Every = cmp.Or(cfg.Every, cfg.Garden.Site.Every, 5*time.Minute)
	if cfg.Every < time.Minute || cfg.Every > time.Hour || cfg.Every%time.Minute != 0 {
		return fmt.Errorf("rounds every %v: write whole minutes from \"1 min\" to \"60 min\"", cfg.Every)
	}
	cfg.Answer = cmp.Or(cfg.Answer, 10*time.Second)
	cfg.Round = cmp.Or(cfg.Round, min(cfg.Every*4/5, 2*time.Minute))
	if cfg.Clock == nil {
		cfg.Clock = &Clock{Root: cfg.Env.Root, Trust: cfg.Garden.Site.Clock == "trust"}
	}
	if cfg.Env.Log == nil {
		cfg.Env.Log = slog.New(slog.DiscardHandler)
	}
	if cfg.wish == nil {
		cfg.wish = drivers.ParseProbe
	}
	return nil
}

// wishes parses every probe that has a source. A probe without one is fed by import.
func (cfg *Config) wishes() ([]drivers.Wish, error) {
	var wishes []drivers.Wish
	var errs []error
	for _, probe := range cfg.Garden.Probes {
		if probe.Source.Zero() {
			continue
		}
		w, err := cfg.wish(probe)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		if w.Check != nil {
			if err := w.Check(cfg.Env); err != nil {
				errs = append(errs, fmt.Errorf("probe %s: %w", w.Probe, err))
			}
		}
		wishes = append(wishes, w)
	}
	return wishes, errors.Join(errs...)
}

// Rounds is where visits come out, in order. Nobody reading holds up the rounds, so it must be read.
func (p *Poller) Rounds() <-chan Visit { return p.out }

// Workers lists the goroutines a daemon starts: the one that keeps the rhythm and one a bus.
func (p *Poller) Workers() []Worker {
	ws := []Worker{{Name: "rounds", Run: p.conduct, Beat: p.beat.last, Limit: p.cfg.Round + 2*time.Minute}}
	for _, b := range p.buses {
		ws = append(ws, Worker{Name: "bus " + b.name, Run: b.run, Beat: b.beat.last, Limit: p.cfg.Round + 2*time.Minute, Hung: b.hung.last})
	}
	return ws
}

// Unassigned lists what answers on this board and no probe of the garden reads.
func (p *Poller) Unassigned() []drivers.Found {
	var list []drivers.Found
	for _, d := range drivers.All() {
		if d.Look == nil {
			continue
		}
		for _, f := range d.Look(p.cfg.Env) {
			if !p.reads(f) {
				list = append(list, f)
			}
		}
	}
	return list
}

func (p *Poller) reads(f drivers.Found) bool {
	for _, b := range p.buses {
		for _, s := range b.slots {
			if s.wishes[0].Chip == f.Chip && (f.Channel == "" || slices.ContainsFunc(s.wishes, func(w drivers.Wish) bool { return w.Channel == f.Channel })) {
				return true
			}
		}
	}
	return false
}

// notice passes on what is to be said of a bus, the same words at most once a day.
func (p *Poller) notice(bus, text string) {
	p.mu.Lock()
	last, said := p.told[bus+"\x00"+text]
	fresh := !said || time.Since(last) >= 24*time.Hour
	if fresh {
		p.told[bus+"\x00"+text] = time.Now()
	}
	p.mu.Unlock()
	if !fresh {
		return
	}
	p.cfg.Env.Log.Warn(text, "bus", bus)
	if say := p.cfg.say; say != nil {
		say(bus, text)
	}
}

// mended takes a notice back; should it hold again, it is said again.
func (p *Poller) mended(bus, text string) {
	p.mu.Lock()
	_, said := p.told[bus+"\x00"+text]
	delete(p.told, bus+"\x00"+text)
	p.mu.Unlock()
	if unsay := p.cfg.unsay; said && unsay != nil {
		unsay(bus, text)
	}
}

// beat is when a goroutine was last alive.
type beat struct{ at atomic.Pointer[time.Time] }

func (b *beat) now() {
	t := time.Now()
	b.at.Store(&t)
}

func (b *beat) last() time.Time {
	if t := b.at.Load(); t != nil {
		return *t
	}
	return time.Time{}
}

// ids lists the probes of wishes.
func ids(wishes []drivers.Wish) string {
	var list []string
	for _, w := range wishes {
		list = append(list, string(w.Probe))
	}
	return strings.Join(list, ", ")
}

func silent(wishes []drivers.Wish, why string) []sensors.Fault {
	var fs []sensors.Fault
	for _, w := range wishes {
		fs = append(fs, sensors.Fault{Probe: w.Probe, Kind: sensors.Silent, Why: why})
	}
	return fs
}
