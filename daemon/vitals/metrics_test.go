package vitals

import (
	"context"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var noon = time.Date(2027, 1, 20, 12, 0, 0, 0, time.UTC)

// ordinary is a daemon that is well.
func ordinary() Report {
	return Report{At: noon, Version: "1.2", Began: noon.Add(-26 * time.Hour), Sentence: "Nothing to do.",
		Workers: []Worker{{Name: "walker", Needed: true, Quiet: 3 * time.Second, Limit: 10 * time.Minute}, {Name: "bus w1", Needed: true, Quiet: time.Second, Limit: 4 * time.Minute}, {Name: "page"}},
		Rounds: Rounds{Every: 5 * time.Minute, Walked: 312, Valid: 900, Suspect: 4, Faults: []Kind{{"silent", 31}, {"garbled", 2}}, Since: 90 * time.Second,
			Newest: noon.Add(-90 * time.Second)},
		Buses: []Bus{{Name: "w1", Chips: 3, Asked: 936, Answered: 90 * time.Second}, {Name: "serial /dev/ttyUSB0", Chips: 2, Asked: 624, Failed: 156, Answered: 90 * time.Second}},
		Probes: []Probe{{ID: "d7-t", Measures: "pot-temperature", Value: "4.1 °C", At: noon.Add(-90 * time.Second)},
			{ID: "node-b", Measures: "battery", Value: "2.9 V", At: noon.Add(-90 * time.Second), Battery: Battery{true, true, 2.9}},
			{ID: "node-c", Measures: "battery", Value: "80 %EL", At: noon.Add(-90 * time.Second), Battery: Battery{true, false, .8}}},
		Journal: Journal{Path: "/var/lib/lathwatch/lathwatch.journal", Size: 3 << 20, Log: 1 << 20, Free: 5 << 30, Whole: 8 << 30, LastBackup: noon.Add(-8 * time.Hour)},
		Ways:    []Way{{Name: "mail", Waiting: 2}}, Forward: &Forward{Through: noon.Add(-time.Hour), Lag: time.Hour - 90*time.Second, Sent: 5000, Aside: 1},
		Clock:  Clock{true, "the kernel is synchronised"},
		Alerts: []Kind{{"frost-tonight", 1}, {"water", 0}}, Starts: []Start{{At: noon.Add(-26 * time.Hour), Version: "1.2"}}, Ends: []Kind{{"stopped", 4}, {"cut", 1}}}
}

func scrape(t testing.TB, r Report) string {
	t.Helper()
	c := NewCommits()
	for _, d := range []time.Duration{time.Millisecond, 3 * time.Millisecond, 40 * time.Millisecond} {
		c.Took(d)
	}
	m, err := NewMetrics(func(context.Context) Report { return r }, c)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := m.Write(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestFiguresAreOpenMetrics(t *testing.T) {
	text := scrape(t, ordinary())
	got, err := openMetrics(text)
	if err != nil {
		t.Fatal(err)
	}
	for sample, want := range map[string]float64{
		`lathwatch_well`: 1, `lathwatch_rounds_total`: 312, `lathwatch_readings_total{quality="suspect"}`: 4, `lathwatch_faults_total{kind="silent"}`: 31,
		`lathwatch_bus_asks_total{bus="serial /dev/ttyUSB0"}`: 624, `lathwatch_bus_failures_total{bus="serial /dev/ttyUSB0"}`: 156,
		`lathwatch_probe_last_seen_timestamp_seconds{probe="d7-t"}`: float64(noon.Unix() - 90), `lathwatch_battery_volts{probe="node-b"}`: 2.9,
		`lathwatch_battery_ratio{probe="node-c"}`: .8, `lathwatch_journal_size_bytes`: 3 << 20, `lathwatch_journal_disk_free_bytes`: 5 << 30,
		`lathwatch_journal_commit_seconds_count`: 3, `lathwatch_journal_commit_seconds_bucket{le="0.005"}`: 2, `lathwatch_way_waiting{way="mail"}`: 2,
		`lathwatch_forwarder_lag_seconds`: 3510, `lathwatch_forwarder_lines_set_aside`: 1, `lathwatch_alerts_standing{kind="frost-tonight"}`: 1,
		`lathwatch_alerts_standing{kind="water"}`: 0, `lathwatch_starts_on_record{ended="cut"}`: 1, `lathwatch_clock_trusted`: 1,
	} {
		if v, ok := got[sample]; !ok || v != want {
			t.Errorf("%s is %v (%v), want %v", sample, v, ok, want)
		}
	}
	for _, p := range []string{"process_resident_memory_bytes", "process_cpu_seconds_total", "go_goroutines"} {
		if got[p] <= 0 {
			t.Errorf("%s is %v", p, got[p])
		}
	}
	if !strings.Contains(text, "# UNIT lathwatch_journal_size_bytes bytes\n") || !strings.Contains(text, "# TYPE lathwatch_rounds counter\n") {
		t.Errorf("units or types are missing:\n%s", text)
	}
}

func TestWhatNeverWasIsAbsent(t *testing.T) {
	r := ordinary()
	r.Probes[0].At, r.Journal.LastBackup, r.Forward = time.Time{}, time.Time{}, nil
	got, err := openMetrics(scrape(t, r))
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{`lathwatch_probe_last_seen_timestamp_seconds{probe="d7-t"}`, "lathwatch_journal_backup_timestamp_seconds", "lathwatch_forwarder_lag_seconds"} {
		if v, ok := got[s]; ok {
			t.Errorf("%s is %v", s, v)
		}
	}
	if got[`lathwatch_probe_silent{probe="d7-t"}`] != 1 {
		t.Error("a probe that has never answered is not silent")
	}
}

// A name that tries to write lines of its own stays inside its label.
func TestNamesCannotWriteLines(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		name := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"a\"} 1\nlathwatch_well 0\n# EOF\n", "\\", "\\\"", "\xff\xfe", "a\r\nb", "\x00"})).Draw(rt, "name")
		r := ordinary()
		r.Buses[0].Name, r.Version, r.Ways[0].Name = name, name, name
		got, err := openMetrics(scrape(t, r))
		if err != nil {
			rt.Fatalf("%q: %v", name, err)
		}
		if got["lathwatch_well"] != 1 || len(got) < 80 {
			rt.Fatalf("%q changed what is said: %d samples", name, len(got))
		}
	})
}

// A duplicate is refused whole, not written: ids are unique in a garden, so it would be a fault of ours.
func TestABusTwiceIsAnErrorOfItsOwn(t *testing.T) {
	r := ordinary()
	r.Buses[1].Name = r.Buses[0].Name
	m, err := NewMetrics(func(context.Context) Report { return r }, NewCommits())
	if err != nil {
		t.Fatal(err)
	}
	if err := m.Write(t.Context(), &strings.Builder{}); err == nil {
		t.Error("the same sample twice was written")
	}
}

func BenchmarkScrape(b *testing.B) {
	r := ordinary()
	m, err := NewMetrics(func(context.Context) Report { return r }, NewCommits())
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := m.Write(b.Context(), &strings.Builder{}); err != nil {
			b.Fatal(err)
		}
	}
}
