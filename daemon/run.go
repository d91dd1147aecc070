package daemon

import (
	"context"
	"errors"
	"fmt"
	"net"
	"runtime/debug"
	"sync"
	"time"

	"lathwatch/alerts/broker"
	"lathwatch/alerts/push"
	"lathwatch/daemon/influx"
	"lathwatch/dashboards"
	"lathwatch/sensors"
	"lathwatch/sensors/bus"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/poll"
)

// A worker is one goroutine of the roster.
type worker struct {
	name  string
	run   func(ctx context.Context) error
	beat  func() time.Time // when it was last alive; nil: it is not watched
	limit time.Duration
	hung  func() time.Time // of a bus: since when a chip on it has not come back
}

// silent is for how long a watched worker has given no sign of life; one that has not yet is counted from the beginning.
func (w worker) silent(began, now time.Time) time.Duration {
	last := w.beat()
	if last.IsZero() {
		last = began
	}
	return now.Sub(last)
}

// Run starts every goroutine of the daemon and waits for all of them to end: the walker, one a bus, the page, the socket, the
// broker inside, one a way out. The first that fails ends the rest. It closes the journal.
func (d *Daemon) Run(ctx context.Context) (err error) {
	defer func() {
		d.closeBook(err)
		err = errors.Join(err, d.journal.Close())
	}()
	roster, started, err := d.roster(ctx)
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	var all sync.WaitGroup
	for _, w := range roster {
		all.Go(func() {
			if err := d.guard(w)(ctx); err != nil && ctx.Err() == nil {
				stop(fmt.Errorf("%s: %w", w.name, err))
			}
		})
	}
	started()
	<-ctx.Done()
	if err := d.boss.tell("STOPPING=1", "stopping"); err != nil {
		d.cfg.Log.Warn("supervisor", "err", err)
	}
	all.Wait()
	if cause := context.Cause(ctx); !errors.Is(cause, context.Canceled) {
		return cause
	}
	return nil
}

// roster opens what listens and lists who runs.
func (d *Daemon) roster(ctx context.Context) ([]worker, func(), error) {
	var local *broker.Broker
	if push.WantsBroker(d.garden) {
		b, err := broker.New(broker.Config{Broker: d.garden.Services.Broker, Site: d.garden.Site.ID, Inlets: inlets(d.garden), Log: d.cfg.Log})
		if err != nil {
			return nil, nil, err
		}
		local = b
	}
	topics := newTopics(d, local)
	if err := d.openSource(ctx, topics); err != nil {
		return nil, nil, err
	}
	roster := []worker{{name: "walker", run: d.walker, beat: d.alive, limit: walkerLimit}}
	for _, w := range d.poller.Workers() {
		roster = append(roster, worker{name: w.Name, run: d.whenBegun(w.Run), beat: w.Beat, limit: w.Limit, hung: w.Hung})
	}
	if local != nil {
		roster = append(roster, worker{name: "broker", run: local.Run})
	}
	if topics.needed() {
		roster = append(roster, worker{name: "topics", run: topics.Run})
	}
	ways, err := d.ways(local)
	if err != nil {
		return nil, nil, err
	}
	roster = append(roster, ways...)
	sock, err := d.socket()
	if err != nil {
		return nil, nil, err
	}
	roster = append(roster, sock)
	page, addr, err := d.page()
	if err != nil {
		return nil, nil, err
	}
	roster = append(roster, page...)
	roster = append(roster, worker{name: "nightly copy", run: d.nightly})
	if raw := d.garden.Services.Influx; !raw.Zero() {
		set, err := influx.Read(raw, d.garden.Site.ID)
		if err == nil {
			err = set.Ready()
		}
		if err != nil {
			return nil, nil, err
		}
		d.faring.forward = influx.New(set, d.journal, d.cfg.Log)
		roster = append(roster, worker{name: "forwarder", run: d.faring.forward.Run})
	}
	roster = append(roster, worker{name: "watchdog", run: d.whenBegun(d.watcher(roster))})
	d.faring.roster = roster
	return roster, func() { d.started(addr, local) }, nil
}

func (d *Daemon) started(page string, local *broker.Broker) {
	b := ""
	if local != nil {
		b = local.Addr()
	}
	if r := push.Reach(d.garden); r != "" {
		d.cfg.Log.Warn(r)
	}
	if d.cfg.Started != nil {
		d.cfg.Started(page, b)
	}
	debug.FreeOSMemory() // the walk of the start passed a year through; a small board has other uses for the room
	if err := d.boss.tell("READY=1", d.status()); err != nil {
		d.cfg.Log.Warn("supervisor", "err", err)
	}
}

// whenBegun holds a worker back until live rounds may begin.
func (d *Daemon) whenBegun(run func(context.Context) error) func(context.Context) error {
	if d.cfg.Begin == nil {
		return run
	}
	return func(ctx context.Context) error {
		select {
		case <-d.cfg.Begin:
			return run(ctx)
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// openSource makes the poller over this board's buses.
func (d *Daemon) openSource(ctx context.Context, topics *topics) error {
	board := bus.New(bus.Options{Root: d.cfg.Root, Notice: d.notice})
	clock := d.cfg.Clock
	if clock == nil {
		clock = &poll.Clock{Root: d.cfg.Root, Trust: d.garden.Site.Clock == "trust"}
	}
	clock.Newest = func() time.Time {
		if ms := d.newest.Load(); ms > 0 {
			return time.UnixMilli(ms).UTC()
		}
		return time.Time{}
	}
	d.faring.clock = clock
	env := drivers.Env{Root: d.cfg.Root, I2C: board.I2C, Serial: board.Serial, Topics: topics, Log: d.cfg.Log, Notice: d.notice, Mended: d.mended, Simulated: d.cfg.Simulated, After: d.lastOf}
	door, err := d.warmDoor(ctx)
	if err != nil {
		return err
	}
	p, err := poll.New(poll.Config{Garden: d.garden, Env: env, Clock: clock, Door: door, Answer: d.cfg.Answer})
	if err != nil {
		return err
	}
	d.poller = p
	return nil
}

// warmDoor makes the door for live rounds and shows it the last day on record, so that a leap across a restart is still a leap.
func (d *Daemon) warmDoor(ctx context.Context) (*drivers.Door, error) {
	door := drivers.NewDoor(d.garden.Probes)
	newest := time.UnixMilli(d.newest.Load())
	for e, err := range d.journal.Entries(ctx, newest.Add(-24*time.Hour), time.Time{}) {
		if err != nil {
			return nil, fmt.Errorf("reading the last day on record: %w", err)
		}
		if e.Round != nil {
			door.Admit(*e.Round)
		}
	}
	return door, nil
}

// lastOf is the newest instant on record of a probe, so that a logger's own store is not read twice.
func (d *Daemon) lastOf(id sensors.ProbeID) time.Time {
	st := d.Standing()
	for i := range st.Probes {
		if st.Probes[i].Probe.ID == id {
			return st.Probes[i].LastAt
		}
	}
	return time.Time{}
}

// noticeLasts is how long a notice about wiring stands unless it comes again.
const noticeLasts = 24 * time.Hour

func (d *Daemon) notice(where, text string) {
	d.passing("wiring "+where, text)
}

// mended ends a notice about wiring that holds no longer.
func (d *Daemon) mended(where, text string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.trouble["wiring "+where] == text {
		delete(d.trouble, "wiring "+where)
	}
}

// ways opens every way out, each with its own outbox and mark.
func (d *Daemon) ways(local *broker.Broker) ([]worker, error) {
	var list []worker
	for _, raw := range push.Plan(d.garden) {
		for _, w := range push.All() {
			if w.Name != raw.Name {
				continue
			}
			run, err := w.Open(raw, d.wayEnv(w.Name, local))
			if err != nil {
				return nil, err
			}
			list = append(list, worker{name: "way " + run.Name(), run: run.Run})
			d.runners = append(d.runners, run)
		}
	}
	return list, nil
}

func (d *Daemon) wayEnv(name string, local *broker.Broker) push.Env {
	box := newOutbox(name, d.journal.Outbox(name))
	d.boxes = append(d.boxes, box)
	env := push.Env{Site: d.garden.Site.ID, Outbox: box, NoteTaker: d.takePayload, Picture: d.picture, Log: d.cfg.Log, State: d.Standing,
		Retained: retained{d.journal}, Updates: d.subscribe(), Trouble: func(kind, text string) { d.setTrouble(name+" "+kind, text) }}
	if local != nil {
		env.Local = local
	}
	return env
}

// takePayload takes a note that came in over MQTT.
func (d *Daemon) takePayload(ctx context.Context, payload []byte) error {
	n, err := push.DecodeNote(payload, d.cfg.Now())
	if err != nil {
		return err
	}
	return d.TakeNote(ctx, n)
}

// pages are all pages, answered from this daemon.
func (d *Daemon) pages(p garden.Page, pass, token string) (*dashboards.Pages, error) {
	return dashboards.New(dashboards.Config{Standings: d, Notes: d, NoteBook: noteBook{d.journal}, Messages: messages{d.journal}, Curves: curves{d.journal},
		Sessions: sessions{d.journal}, Starts: bookOfStarts{d.journal}, Mounts: d.YearPages(), Metrics: d.metricsPage(), Health: d.healthz(), ScrapeToken: token,
		Page: p, Passphrase: pass, TLS: p.CertFile != "", Version: d.cfg.Version, Log: d.cfg.Log, Now: d.cfg.Now})
}

// page opens the web page's door.
func (d *Daemon) page() ([]worker, string, error) {
	p := d.garden.Services.Page
	if p.Off {
		return nil, "", nil
	}
	pass, err := push.Secret(p.PassphraseFile)
	if err != nil {
		return nil, "", fmt.Errorf("reading the page's passphrase: %w", err)
	}
	token, err := push.Secret(p.MetricsTokenFile)
	if err != nil {
		return nil, "", fmt.Errorf("reading the metrics' token: %w", err)
	}
	if p.CertFile != "" { // the page's server reads it itself
		if _, err := push.KeyPair(p.CertFile, p.KeyFile); err != nil {
			return nil, "", fmt.Errorf("opening the page: %w", err)
		}
	}
	pages, err := d.pages(p, pass, token)
	if err != nil {
		return nil, "", err
	}
	ln, err := net.Listen("tcp", p.Listen)
	if err != nil {
		return nil, "", fmt.Errorf("opening the page: %w", err)
	}
	return []worker{{name: "page", run: func(ctx context.Context) error { return pages.Serve(ctx, ln) }}}, ln.Addr().String(), nil
}
