package daemon

import (
	"context"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"lathwatch/daemon/journal"
)

// BenchmarkCommitDuringReplay commits a round of 20 probes every few milliseconds, first while nothing else goes on, then while ten
// years of five-minute rounds are read through the same connection and walked (what learning every season anew does), then
// while the journal is copied for a rehearsal. p99-ratio and copy-p99-ratio are held against the idle median of the same run.
func BenchmarkCommitDuringReplay(b *testing.B) {
	const every = 5 * time.Minute
	text, until := loadGarden("5 min"), time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)
	path := filepath.Join(b.TempDir(), "decade.journal")
	rounds := loadDecade(b, path, text, every, loadDays, until)
	j, err := journal.Open(path, journal.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer j.Close()
	c := committer{j: j, y: &loadYears{every: every, rng: rand.New(rand.NewPCG(1, 2))}, at: until}
	for b.Loop() {
		idle := c.during(b, func() { time.Sleep(5 * time.Second) })
		began := time.Now()
		var walked int64
		busy := c.during(b, func() {
			var err error
			if _, walked, err = taughtAnew(context.Background(), j); err != nil {
				b.Error(err)
			}
		})
		took := time.Since(began).Seconds()
		if walked < int64(rounds) {
			b.Fatalf("%d of %d rounds were walked", walked, rounds)
		}
		copying := c.during(b, func() {
			if _, err := j.Backup(context.Background(), b.TempDir(), 1); err != nil {
				b.Fatal(err)
			}
		})
		median := quantile(idle, 0.5)
		b.ReportMetric(median.Seconds()*1e6, "idle-median-µs")
		b.ReportMetric(float64(quantile(idle, 0.99))/float64(median), "idle-p99-ratio")
		b.ReportMetric(float64(quantile(busy, 0.99))/float64(median), "p99-ratio")
		b.ReportMetric(float64(quantile(busy, 1))/float64(median), "max-ratio")
		b.ReportMetric(float64(quantile(copying, 0.99))/float64(median), "copy-p99-ratio")
		b.ReportMetric(float64(len(busy)), "commits")
		b.ReportMetric(20*float64(walked)/took, "replayed-readings/s")
	}
}

// committer commits rounds, one after the other.
type committer struct {
	j  *journal.Journal
	y  *loadYears
	at time.Time
}

// during commits a round every five milliseconds for as long as work goes on, and gives how long each took.
func (c *committer) during(b *testing.B, work func()) (took []time.Duration) {
	done := make(chan struct{})
	go func() { defer close(done); work() }()
	pace := time.NewTicker(5 * time.Millisecond)
	defer pace.Stop()
	for {
		select {
		case <-done:
			return took
		case <-pace.C:
		}
		r := c.y.round(c.at)
		c.at = c.at.Add(c.y.every)
		began := time.Now()
		if err := c.j.Keep(context.Background(), r, nil); err != nil {
			b.Fatal(err)
		}
		took = append(took, time.Since(began))
	}
}

func quantile(ds []time.Duration, q float64) time.Duration {
	ds = slices.Sorted(slices.Values(ds))
	return ds[min(int(q*float64(len(ds))), len(ds)-1)]
}
