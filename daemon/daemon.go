package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
	"lathwatch/daemon/journal"
	"lathwatch/daemon/vitals"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/poll"
)

// Config is what a daemon is started with.
type Config struct {
	GardenPath string // for messages; the text is what counts
	GardenText string
	StateDir   string // journal, socket and sessions lie here
	Root       string // of sys and dev; empty: this board
	Log        *slog.Logger
	Lines      func() []string  // the log's newest lines, for a support bundle; nil: none are kept
	Now        func() time.Time // default time.Now
	Clock      *poll.Clock      // default this board's
	Version    string
	// Simulated makes the rounds of simulated probes (demo); nil: there are none.
	Simulated func(time.Time) sensors.Round
	// Begin holds back live rounds until it is closed (demo: until the past is walked); nil: they begin at once.
	Begin <-chan struct{}
	// Started is told the page's and the broker's addresses once both listen; may be nil.
	Started func(page, broker string)
	// LastWords is what the run before said when the program failed it (see LastWords).
	LastWords string
	// Patience is how long a bus may hang before this run ends, to be started anew; default 15 minutes.
	Patience time.Duration
	// Answer is the longest wait for one source; default 10 s.
	Answer time.Duration

	boss *supervisor // tests put another one in
}

// A Daemon holds what runs share. Only the walker touches the walk; everybody else reads the standing it published.
type Daemon struct {
	cfg        Config
	boss       supervisor
	garden     *garden.Garden
	journal    *journal.Journal
	walk       *Walk
	faring     faring
	pending    []alerts.Change // of Adopt, kept with the first live round
	unkept     []journal.Kept  // rounds the journal would not take yet
	unheld     []journal.HeldRound
	unplaced   []sensors.Late
	heldLooked bool        // held rounds of an earlier run were looked for
	heldFrom   *poll.Stamp // of the first round held since the clock was last trusted
	standing   atomic.Pointer[alerts.Standing]
	asks       chan func()
	poller     *poll.Poller
	runners    []push.Runner // the ways out, set before anything runs
	boxes      []*outbox     // one a way, set before anything runs
	stale      bool          // late readings are on record that the walk has not seen
	refolded   time.Time
	relearning sync.Mutex // held while everything on record is walked
	mu         sync.Mutex
	updates    []chan push.Update
	trouble    map[string]string // guarded by mu
	degraded   atomic.Bool
	newest     atomic.Int64              // instant of the newest round on record, UTC ms
	beat       atomic.Pointer[time.Time] // when the walker was last alive
}

// New reads the garden, opens the journal and walks the season on record up to now. Nothing runs yet.
func New(ctx context.Context, cfg Config) (*Daemon, error) {
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	g, err := ParseGarden(cfg.GardenPath, []byte(cfg.GardenText))
	if err != nil {
		return nil, err
	}
	d := &Daemon{cfg: cfg, garden: g, asks: make(chan func(), 16), trouble: map[string]string{}, boss: supervisorOf(os.Getenv)}
	if cfg.boss != nil {
		d.boss = *cfg.boss
	}
	defer d.boss.starting("starting: checking the journal and walking the season on record")()
	d.faring.began, d.faring.commits = time.Now(), vitals.NewCommits()
	if d.faring.metrics, err = vitals.NewMetrics(d.fares, d.faring.commits); err != nil {
		return nil, err
	}
	if err := d.open(ctx); err != nil {
		return nil, d.abandon(err)
	}
	if err := d.replay(ctx); err != nil {
		return nil, d.abandon(err)
	}
	return d, nil
}

// abandon ends a start that failed.
func (d *Daemon) abandon(err error) error {
	if d.journal == nil {
		return err
	}
	d.closeBook(err)
	return errors.Join(err, d.journal.Close())
}

// JournalPath is where a garden's journal lies.
func JournalPath(g *garden.Garden, stateDir string) string {
	if p := g.Services.Journal.Path; p != "" {
		return p
	}
	return filepath.Join(stateDir, "lathwatch.journal")
}

func (d *Daemon) open(ctx context.Context) error {
	j, err := journal.Open(JournalPath(d.garden, d.cfg.StateDir), journal.Options{Zone: d.garden.Site.Zone, Log: d.cfg.Log, Now: d.cfg.Now, Committed: d.faring.commits.Took,
		Backups: d.garden.Services.Backup.Folder, Keep: d.garden.Services.Backup.Keep})
	if err != nil {
		return fmt.Errorf("opening the journal: %w", err)
	}
	d.journal = j
	d.openBook(ctx)
	if r := j.Report(); !r.OK() {
		d.setTrouble("journal", "The journal was mended at start: "+r.String()+".")
	}
	if err := j.AddGarden(ctx, d.cfg.Now(), d.cfg.GardenText); err != nil {
		return fmt.Errorf("writing the garden to the journal: %w", err)
	}
	newest, err := j.Newest(ctx)
	if err != nil {
		return err
	}
	d.newest.Store(newest.UnixMilli())
	return nil
}

// since is where a start's walk begins: 60 days before the season of now, where the season before was closed for learning.
func (d *Daemon) since() time.Time {
	south, _ := d.garden.Site.South()
	return alerts.TeachingDay(garden.Calendar{Zone: d.garden.Site.Zone, South: south}, d.cfg.Now())
}

// replay walks the season on record anew. It is how the daemon starts and how it takes late data or a late note.
func (d *Daemon) replay(ctx context.Context) error {
	w := NewWalk()
	w.Reach(push.Reach(d.garden))
	from := d.since()
	notes, err := d.journal.Notes(ctx, time.Time{})
	if err != nil {
		return fmt.Errorf("reading the notes: %w", err)
	}
	w.Undone(Undone(notes))
	if err := w.startWith(ctx, d.journal, from, notes); err != nil {
		return err
	}
	for e, err := range d.journal.Entries(ctx, from, time.Time{}) {
		if err != nil {
			return fmt.Errorf("walking the season on record: %w", err)
		}
		if _, err := w.Take(e); err != nil {
			return err
		}
	}
	var record []alerts.Change
	for c, err := range d.journal.Changes(ctx, from) {
		if err != nil {
			return fmt.Errorf("reading what was said: %w", err)
		}
		record = append(record, c)
	}
	for i := range d.unkept { // a card that refuses them is no reason to walk without them
		if _, err := w.Take(sensors.Entry{At: d.unkept[i].Round.At, Round: &d.unkept[i].Round}); err != nil {
			return err
		}
		record = append(record, d.unkept[i].Changes...)
	}
	d.pending = w.Adopt(record)
	d.walk = w
	d.show()
	return nil
}

// show publishes a snapshot of what is known.
func (d *Daemon) show() {
	st := d.walk.Standing()
	d.mu.Lock()
	if t := troubleSentence(d.trouble); t != "" {
		st.Trouble = t
	}
	d.mu.Unlock()
	d.standing.Store(st)
}

// Standing is the newest snapshot.
func (d *Daemon) Standing() *alerts.Standing { return d.standing.Load() }

// Journal is the open journal.
func (d *Daemon) Journal() *journal.Journal { return d.journal }

// Close ends a daemon that was not run.
func (d *Daemon) Close() error {
	d.closeBook(nil)
	return d.journal.Close()
}
