package drivers

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

func pollOnce(t *testing.T, w *world, _ []string, body string) {
	if err, _ := w.keep["refused"].(error); err != nil {
		t.Fatal(err)
	}
	if len(w.sources) == 0 {
		if err := w.open(); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	var rs []sensors.Reading
	var fs []sensors.Fault
	var late []sensors.LateReading
	for _, s := range w.sources {
		r, f := s.Poll(ctx)
		rs, fs = append(rs, r...), append(fs, f...)
		if l, ok := s.(Latecomer); ok {
			late = append(late, l.Late()...)
		}
	}
	w.seen.reading = w.seen.reading || len(rs) > 0 || len(late) > 0
	w.seen.fault = w.seen.fault || len(fs) > 0
	got := said(rs, fs, late, w.notices, strings.Contains(body, " raw "))
	w.notices = nil
	if diff := cmp.Diff(lines(body), got); diff != "" {
		t.Errorf("poll (-want +got):\n%s", diff)
	}
}

// said prints what a poll brought, as FORMAT.md has it.
func said(rs []sensors.Reading, fs []sensors.Fault, late []sensors.LateReading, notices []string, raw bool) []string {
	slices.SortStableFunc(rs, func(a, b sensors.Reading) int { return strings.Compare(string(a.Probe), string(b.Probe)) })
	slices.SortStableFunc(fs, func(a, b sensors.Fault) int { return strings.Compare(string(a.Probe), string(b.Probe)) })
	slices.SortStableFunc(late, func(a, b sensors.LateReading) int { return strings.Compare(string(a.Probe), string(b.Probe)) })
	var out []string
	value := func(r sensors.Reading) string {
		s := r.Unit().Format(r.Whole())
		if r.Quality == sensors.Suspect {
			s = "suspect " + s
		}
		if raw {
			s += fmt.Sprintf(" raw %d", r.Raw)
		}
		return s
	}
	for _, r := range rs {
		out = append(out, fmt.Sprintf("%s %s", r.Probe, value(r)))
	}
	for _, f := range fs {
		out = append(out, fmt.Sprintf("%s %v: %s", f.Probe, f.Kind, f.Why))
	}
	for _, l := range late {
		out = append(out, fmt.Sprintf("late %s %s %s", l.Probe, l.At.UTC().Format(time.RFC3339), value(l.Reading)))
	}
	for _, n := range notices {
		out = append(out, "notice "+n)
	}
	return out
}

func lines(s string) []string {
	var out []string
	for line := range strings.Lines(s) {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

// fakeTopics hands out what a story's message sections bring.
type fakeTopics struct {
	subs []struct {
		filter string
		handle func(Arrival)
	}
}

func (f *fakeTopics) Subscribe(filter string, handle func(Arrival)) error {
	f.subs = append(f.subs, struct {
		filter string
		handle func(Arrival)
	}{filter, handle})
	return nil
}

func (f *fakeTopics) deliver(a Arrival) {
	for _, s := range f.subs {
		if s.filter == a.Topic {
			s.handle(a)
		}
	}
}

// probesOf reads [[probe]] blocks the plain way: one key a line, one driver's table a block. The daemon's own reader is in a
// room to the right of this one and has its own tests.
func probesOf(t *testing.T, text string) []garden.Probe {
	t.Helper()
	var probes []garden.Probe
	var p *garden.Probe
	own := false
	for i, line := range strings.Split(text, "\n") {
		key, val, isKey := strings.Cut(line, "=")
		key, val = strings.TrimSpace(key), strings.Trim(strings.TrimSpace(val), `"`)
		var err error
		switch name, isTable := strings.CutPrefix(strings.TrimSpace(line), "[probe."); {
		case strings.TrimSpace(line) == "[[probe]]":
			probes = append(probes, garden.Probe{Line: i + 1})
			p, own = &probes[len(probes)-1], false
		case p == nil:
		case isTable:
			own = true
			p.Source = table.Raw{Name: strings.Trim(name, `]"`), Path: fmt.Sprintf("probe %s, %s", p.ID, strings.Trim(name, `]"`)), Line: i + 2}
		case own:
			p.Source.Body += line + "\n"
		case !isKey:
		case key == "id":
			p.ID = sensors.ProbeID(val)
		case key == "measures":
			err = p.Measures.UnmarshalText([]byte(val))
		case key == "pot":
			p.Pot = val
		case key == "place":
			p.Place = val
		case key == "depth":
			p.Depth = val
		case key == "unit":
			p.Unit, err = units.FromSenML(val)
		case key == "every":
			var s units.Span
			err = s.UnmarshalText([]byte(val))
			p.Every = s.Duration()
		default:
			err = fmt.Errorf("a story's probe has no key %q", key)
		}
		if err != nil {
			t.Fatalf("line %d: %v", i+1, err)
		}
	}
	return probes
}
