package daemon

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"lathwatch/alerts"
	"lathwatch/alerts/rules"
	"lathwatch/daemon/influx"
	"lathwatch/daemon/vitals"
	"lathwatch/sensors"
	"lathwatch/sensors/poll"
	"lathwatch/sensors/units"
)

// faring is what a daemon knows of how it fares. It is filled before anything runs; afterwards only tally changes.
type faring struct {
	tally   tally
	commits *vitals.Commits
	metrics *vitals.Metrics
	began   time.Time // real time: what a clock's step must not change
	roster  []worker
	clock   *poll.Clock
	forward *influx.Forwarder
}

// tally counts live rounds since the start.
type tally struct {
	mu                           sync.Mutex // guards what follows
	walked, held, valid, suspect uint64
	faults                       [sensors.OutOfPot + 1]uint64
	last                         time.Time // real time
	waiting                      int
}

func (t *tally) visit(v poll.Visit) {
	if v.Entry.Round == nil {
		return
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	t.walked++
	if !v.Stamp.Trusted {
		t.held++
	}
	for _, r := range v.Entry.Round.Readings {
		if r.Quality == sensors.Valid {
			t.valid++
		} else {
			t.suspect++
		}
	}
	for _, f := range v.Entry.Round.Faults {
		if int(f.Kind) < len(t.faults) {
			t.faults[f.Kind]++
		}
	}
	t.last = time.Now()
}

func (t *tally) unkept(n int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.waiting = n
}

// lookLasts is the longest a look at the daemon waits for a journal that is busy.
const lookLasts = 3 * time.Second

// fares takes a report. It waits for nobody but the journal, and for that not long.
func (d *Daemon) fares(ctx context.Context) vitals.Report {
	ctx, stop := context.WithTimeout(ctx, lookLasts)
	defer stop()
	st, f := d.Standing(), &d.faring
	r := d.memory(time.Now())
	r.Sentence, r.Trouble = st.Sentence, st.Trouble
	r.Probes = farProbes(st)
	r.Alerts = farAlerts(st)
	if f.clock != nil {
		s := f.clock.Stamp()
		r.Clock = vitals.Clock{Trusted: s.Trusted, Why: s.Why}
	}
	d.farJournal(ctx, &r)
	d.farWays(ctx, &r)
	d.farForwarder(ctx, &r)
	return r
}

func (d *Daemon) farRounds(now time.Time) vitals.Rounds {
	t := &d.faring.tally
	t.mu.Lock()
	defer t.mu.Unlock()
	r := vitals.Rounds{Every: d.garden.Site.Every, Walked: t.walked, Held: t.held, Valid: t.valid, Suspect: t.suspect, Waiting: t.waiting, Degraded: d.degraded.Load(),
		Since: now.Sub(d.faring.began)}
	if r.Every == 0 {
		r.Every = 5 * time.Minute // the poller's own default
	}
	if !t.last.IsZero() {
		r.Since = now.Sub(t.last)
	}
	if ms := d.newest.Load(); ms > 0 {
		r.Newest = time.UnixMilli(ms).UTC()
	}
	for k := sensors.Silent; k <= sensors.OutOfPot; k++ {
		r.Faults = append(r.Faults, vitals.Kind{Name: k.String(), N: t.faults[k]})
	}
	return r
}

func (d *Daemon) farWorkers(r *vitals.Report, now time.Time) {
	for _, k := range d.faring.roster {
		w := vitals.Worker{Name: k.name, Needed: k.beat != nil, Limit: k.limit}
		if k.beat != nil {
			if w.Quiet = k.silent(d.faring.began, now); w.Quiet > k.limit {
				w.Ill = fmt.Sprintf("no sign of life for %s", w.Quiet.Round(time.Second))
			}
		}
		r.Workers = append(r.Workers, w)
	}
}

func (d *Daemon) farBuses(r *vitals.Report, now time.Time) {
	if d.poller == nil {
		return
	}
	hung := map[string]time.Duration{}
	for _, w := range d.poller.Workers() {
		if w.Hung != nil {
			if since := w.Hung(); !since.IsZero() {
				hung[strings.TrimPrefix(w.Name, "bus ")] = now.Sub(since)
			}
		}
	}
	for _, b := range d.poller.Buses() {
		v := vitals.Bus{Name: b.Name, Chips: b.Chips, Down: b.Down, Asked: b.Asked, Failed: b.Failed, Listens: b.Listens, Answered: -1, Hung: hung[b.Name]}
		if !b.Answered.IsZero() {
			v.Answered = now.Sub(b.Answered)
		}
		r.Buses = append(r.Buses, v)
	}
}

func farProbes(st *alerts.Standing) []vitals.Probe {
	lines := probeLines(st)
	all := make([]vitals.Probe, len(lines))
	for i, l := range lines {
		p := &st.Probes[i]
		all[i] = vitals.Probe{ID: l.ID, Measures: l.Measures, Value: l.Value, At: l.At, Suspect: l.Suspect, Silent: p.Silent, Fault: l.Fault}
		if l.Measures == "battery" && !l.At.IsZero() {
			switch p.Last.Unit() {
			case units.Voltage:
				all[i].Battery = vitals.Battery{Known: true, Volts: true, Value: float64(l.Whole) / 1e6}
			case units.Charge, units.Moisture, units.Humidity: // however a source calls its per cent, it is a share in thousandths
				all[i].Battery = vitals.Battery{Known: true, Value: float64(l.Whole) / 1e3}
			}
		}
	}
	return all
}

// farAlerts counts what stands, for every kind on the shelf.
func farAlerts(st *alerts.Standing) []vitals.Kind {
	n := map[string]uint64{}
	for _, a := range st.Alerts {
		n[a.Kind]++
	}
	var all []vitals.Kind
	for _, e := range rules.All() {
		all = append(all, vitals.Kind{Name: e.Kind, N: n[e.Kind]})
	}
	return all
}
