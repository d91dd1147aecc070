package daemon

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"lathwatch/sensors/garden"
)

// A visitor has Today open: it knows the newest text of each key.
type visitor struct {
	at     atomic.Pointer[string]
	events atomic.Int64
}

// visit opens a live feed and reads it until the test ends; an idle one stops reading after the head.
func visit(t testing.TB, address string, idle bool) *visitor {
	t.Helper()
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	fmt.Fprintf(c, "GET /live HTTP/1.1\r\nHost: %s\r\n\r\n", address)
	r := bufio.NewReader(c)
	res, err := http.ReadResponse(r, nil)
	if err != nil || res.StatusCode != http.StatusOK {
		t.Fatalf("opening a live feed: %v, %v", res, err)
	}
	v := &visitor{}
	if idle {
		return v
	}
	go func() { // ends with the connection
		lines := bufio.NewScanner(res.Body)
		lines.Buffer(nil, 1<<20)
		for lines.Scan() {
			data, ok := strings.CutPrefix(lines.Text(), "data: ")
			news := map[string]string{}
			if !ok || json.Unmarshal([]byte(data), &news) != nil {
				continue
			}
			if at, ok := news["at"]; ok {
				v.at.Store(&at)
			}
			v.events.Add(1)
		}
	}()
	return v
}

// servePages serves the pages of a daemon until the test ends.
func servePages(t testing.TB, d *Daemon) string {
	t.Helper()
	pages, err := d.pages(garden.Page{}, "", "")
	if err != nil {
		t.Fatal(err)
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	over := make(chan error, 1)
	go func() { over <- pages.Serve(ctx, ln) }()
	t.Cleanup(func() { cancel(); <-over })
	return ln.Addr().String()
}

// TestFiftyOpenPagesFollowTheWalk: 60 probes, 50 pages open, five of which take nothing in. The walk goes on, and every page that reads
// says what the newest round says.
func TestFiftyOpenPagesFollowTheWalk(t *testing.T) {
	start := time.Date(2026, 11, 10, 8, 0, 0, 0, time.UTC)
	f := newFaultYear(t, 1, "1 min", start)
	f.live(start.Add(10*time.Minute), time.Minute)
	address := servePages(t, f.d)
	var open []*visitor
	for i := range 50 {
		if v := visit(t, address, i%10 == 9); i%10 != 9 {
			open = append(open, v)
		}
	}
	f.live(start.Add(2*time.Hour), time.Minute)
	late := visit(t, address, false)
	newest := func() *string { return late.at.Load() }
	for end := time.Now().Add(60 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		behind := 0
		for _, v := range open {
			if at := v.at.Load(); newest() == nil || at == nil || *at != *newest() {
				behind++
			}
		}
		if behind == 0 {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("%d of %d pages have not heard of the newest round within 60 s", behind, len(open))
		}
	}
	f.nothingLost()
}

// BenchmarkRoundUnderFiftyPages: what a round of 60 probes takes (door, walk, journal, snapshot) with 50 live feeds, each of which finds
// something new at every look, against none. A round comes every 20 ms instead of every minute.
func BenchmarkRoundUnderFiftyPages(b *testing.B) {
	start := time.Date(2026, 11, 10, 8, 0, 0, 0, time.UTC)
	for b.Loop() {
		f := newFaultYear(b, 1, "1 min", start)
		f.live(start.Add(time.Hour), time.Minute)
		address := servePages(b, f.d)
		measure := func(n int) (took []time.Duration) {
			for range n {
				sound := f.model.Step(f.now)
				began := time.Now()
				f.round(sound)
				took = append(took, time.Since(began))
				f.now = f.now.Add(time.Minute)
				time.Sleep(20 * time.Millisecond)
			}
			return took
		}
		alone := measure(400)
		var open []*visitor
		for range 50 {
			open = append(open, visit(b, address, false))
		}
		began := time.Now()
		crowded := measure(400)
		span := time.Since(began)
		events := int64(0)
		for _, v := range open {
			events += v.events.Load()
		}
		b.ReportMetric(quantile(alone, 0.5).Seconds()*1e6, "alone-median-µs")
		b.ReportMetric(float64(quantile(crowded, 0.5))/float64(quantile(alone, 0.5)), "median-ratio")
		b.ReportMetric(float64(quantile(crowded, 0.99))/float64(quantile(alone, 0.99)), "p99-ratio")
		b.ReportMetric(float64(events)/span.Seconds(), "events/s")
	}
}
