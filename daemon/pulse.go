package daemon

import (
	"context"
	"sync"
	"time"

	"lathwatch/daemon/vitals"
)

// pulseLasts is how long a short answer is given again: whoever may ask without signing in must not be able to keep the board busy.
const pulseLasts = time.Second

// A pulse is the short answer to whether the daemon does its work. It is worked out at most once in pulseLasts, whoever asks and
// however many at once, from what is in memory and one look at whether the journal still takes its turn. It reads nothing on record.
type pulse struct {
	inMemory func(now time.Time) vitals.Report
	journal  interface {
		Newest(context.Context) (time.Time, error) // from memory, once the journal has its turn
	}

	mu    sync.Mutex // guards what follows; held while an answer is worked out, so that one is worked out at a time
	at    time.Time
	lines []vitals.Line
	well  bool
}

// take gives the answer; it waits no longer than lookLasts for a journal that is busy.
func (p *pulse) take() (lines []vitals.Line, well bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if now := time.Now(); p.at.IsZero() || now.Sub(p.at) >= pulseLasts {
		r := p.inMemory(now)
		// not the asker's context: one who leaves early must not leave a wrong answer for the next
		ctx, stop := context.WithTimeout(context.Background(), lookLasts)
		if _, err := p.journal.Newest(ctx); err != nil {
			r.Journal.Unknown = err.Error()
		}
		stop()
		p.lines, p.well = r.Well()
		p.at = time.Now()
	}
	return p.lines, p.well
}

// memory is a report of what is in memory: workers, rounds, buses. Nobody is waited for.
func (d *Daemon) memory(now time.Time) vitals.Report {
	r := vitals.Report{At: d.cfg.Now().UTC(), Version: d.cfg.Version, Rounds: d.farRounds(now)}
	r.Began = r.At.Add(-now.Sub(d.faring.began))
	d.farWorkers(&r, now)
	d.farBuses(&r, now)
	return r
}
