package journal

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

var (
	sixteenth    = units.Step{Unit: units.Temperature, Num: 125, Den: 2}
	counts       = units.Whole(units.Count)
	wholeCelsius = units.Whole(units.Temperature)
	t0           = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)
	bg           = context.Background()
)

func open(t testing.TB, path string, o Options) *Journal {
	t.Helper()
	j, err := Open(path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	return j
}

func fresh(t testing.TB) *Journal {
	return open(t, filepath.Join(dir(t), "test.journal"), Options{})
}

// round makes a round of n probes, some of which failed, the same for the same seed and instant.
func round(at time.Time, n int) sensors.Round {
	rng := rand.New(rand.NewPCG(7, uint64(at.Unix())))
	r := sensors.Round{At: at}
	for i := range n {
		id := sensors.ProbeID(fmt.Sprintf("p%02d", i))
		switch rng.IntN(40) {
		case 0:
			r.Faults = append(r.Faults, sensors.Fault{Probe: id, Kind: sensors.Silent, Why: "no answer in 2 s"})
			continue
		case 1:
			r.Faults = append(r.Faults, sensors.Fault{Probe: id, Kind: sensors.Stuck, Why: "the same for 6 h"})
		case 2:
			continue // not asked
		}
		rd := sensors.Reading{Probe: id, Raw: 64 + rng.Int64N(5), Step: sixteenth}
		if i%2 == 1 {
			rd = sensors.Reading{Probe: id, Raw: 30000 - at.Unix()%86400/60 + rng.Int64N(24), Step: counts}
		}
		if rng.IntN(30) == 0 {
			rd.Quality = sensors.Suspect
		}
		r.Readings = append(r.Readings, rd)
	}
	return r
}

func rounds(from time.Time, every time.Duration, n, probes int) []sensors.Round {
	rs := make([]sensors.Round, n)
	for i := range rs {
		rs[i] = round(from.Add(time.Duration(i)*every), probes)
	}
	return rs
}

func keepAll(t testing.TB, j *Journal, rs []sensors.Round) {
	t.Helper()
	for batch := range slices.Chunk(rs, 288) {
		ks := make([]Kept, len(batch))
		for i, r := range batch {
			ks[i].Round = r
		}
		if err := j.KeepAll(bg, ks); err != nil {
			t.Fatal(err)
		}
	}
}

func collect(t testing.TB, es sensors.Entries) []sensors.Entry {
	t.Helper()
	var got []sensors.Entry
	for e, err := range es {
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, e)
	}
	return got
}

func roundsIn(t testing.TB, es sensors.Entries) []sensors.Round {
	t.Helper()
	var got []sensors.Round
	for _, e := range collect(t, es) {
		if e.Round != nil {
			got = append(got, *e.Round)
		}
	}
	return got
}

func same(t testing.TB, what string, got, want any) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		if len(d) > 3000 {
			d = d[:3000] + " ..."
		}
		t.Fatalf("%s (-want +got):\n%s", what, d)
	}
}

func change(n int, text string, until time.Time) alerts.Change {
	return alerts.Change{Key: fmt.Sprintf("k%03d", n), At: t0.Add(time.Duration(n) * time.Minute), Kind: "water-light", Rank: alerts.Week,
		State: alerts.Said, Subject: "D7", Place: "table", Pots: []string{"D7", "D9"}, Text: text, Until: until}
}

// dir is a folder in memory where there is one, so that tests do not wait for a card that syncs.
func dir(t testing.TB) string {
	t.Helper()
	d, err := os.MkdirTemp("/dev/shm", "journal-")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(d) })
	return d
}
