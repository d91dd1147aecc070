package vitals

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/common/expfmt"
)

// MetricsType is the content type of WriteMetrics' text: OpenMetrics 1.0.
const MetricsType = "application/openmetrics-text; version=1.0.0; charset=utf-8"

// Commits measures how long the journal's transactions take. It may be used from any goroutine; its zero value is not usable.
type Commits struct {
	hist prometheus.Histogram

	mu           sync.Mutex // guards what follows
	n            uint64
	sum, longest time.Duration
}

// NewCommits begins with nothing. Its steps run from half a millisecond (a good card) to ten seconds (one that is dying).
func NewCommits() *Commits {
	return &Commits{hist: prometheus.NewHistogram(prometheus.HistogramOpts{Name: "lathwatch_journal_commit_seconds", Unit: "seconds",
		Help: "How long the journal's transactions took until they lay on the card.", Buckets: []float64{.0005, .001, .002, .005, .01, .02, .05, .1, .2, .5, 1, 2, 5, 10}})}
}

// Took counts one transaction.
func (c *Commits) Took(d time.Duration) {
	c.hist.Observe(d.Seconds())
	c.mu.Lock()
	defer c.mu.Unlock()
	c.n, c.sum, c.longest = c.n+1, c.sum+d, max(c.longest, d)
}

// Into writes the figures into a report.
func (c *Commits) Into(j *Journal) {
	c.mu.Lock()
	defer c.mu.Unlock()
	j.Commits, j.CommitsLongest = c.n, c.longest
	if c.n > 0 {
		j.CommitsMean = c.sum / time.Duration(c.n)
	}
}

// Metrics writes reports as OpenMetrics, with the process's own figures beside them.
type Metrics struct {
	reg  *prometheus.Registry
	take func(context.Context) Report
	turn chan struct{} // one scrape at a time
	now  *Report       // of the scrape that has the turn
	desc []*prometheus.Desc
}

// NewMetrics makes the families. take gives a fresh report for each scrape.
func NewMetrics(take func(context.Context) Report, commits *Commits) (*Metrics, error) {
	m := &Metrics{reg: prometheus.NewRegistry(), take: take, turn: make(chan struct{}, 1)}
	for _, f := range families {
		m.desc = append(m.desc, prometheus.V2.NewDesc(f.name, f.help, prometheus.UnconstrainedLabels(f.labels), nil, prometheus.WithUnit(f.unit)))
	}
	// Without the memory statistics: two of them are one family's name in OpenMetrics (a gauge and a counter go_memstats_alloc_bytes),
	// which the specification forbids, and gathering them stops the world.
	runtimes := collectors.NewGoCollector(collectors.WithGoCollectorMemStatsMetricsDisabled())
	for _, c := range []prometheus.Collector{m, commits.hist, runtimes, collectors.NewProcessCollector(collectors.ProcessCollectorOpts{})} {
		if err := m.reg.Register(c); err != nil {
			return nil, fmt.Errorf("making the metrics: %w", err)
		}
	}
	return m, nil
}

// Describe lists the families; prometheus.Collector asks for it.
func (m *Metrics) Describe(out chan<- *prometheus.Desc) {
	for _, d := range m.desc {
		out <- d
	}
}

// Collect gives the samples of the report at hand; prometheus.Collector asks for it.
func (m *Metrics) Collect(out chan<- prometheus.Metric) {
	for i, f := range families {
		kind := prometheus.GaugeValue
		if f.counter {
			kind = prometheus.CounterValue
		}
		f.take(m.now, func(v float64, labels ...string) {
			for k := range labels {
				labels[k] = strings.ToValidUTF8(labels[k], "\ufffd")
			}
			s, err := prometheus.NewConstMetric(m.desc[i], kind, v, labels...)
			if err != nil {
				s = prometheus.NewInvalidMetric(m.desc[i], err)
			}
			out <- s
		})
	}
}

// Write writes one scrape.
func (m *Metrics) Write(ctx context.Context, w io.Writer) error {
	select {
	case m.turn <- struct{}{}:
		defer func() { <-m.turn }()
	case <-ctx.Done():
		return ctx.Err()
	}
	r := m.take(ctx)
	m.now = &r
	all, err := m.reg.Gather()
	if err != nil {
		return fmt.Errorf("gathering the metrics: %w", err)
	}
	enc := expfmt.NewEncoder(w, expfmt.FmtOpenMetrics_1_0_0)
	for _, f := range all {
		if err := enc.Encode(f); err != nil {
			return fmt.Errorf("writing the metrics: %w", err)
		}
	}
	end, ok := enc.(expfmt.Closer)
	if !ok {
		return errors.New("writing the metrics: this encoder writes no end")
	}
	return end.Close()
}
