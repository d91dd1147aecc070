package daemon

import (
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lathwatch/daemon/vitals"
)

// asked gets a page of a running daemon.
func (l *liveDaemon) asked(t *testing.T, path, accept string) (int, http.Header, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), "GET", "http://"+l.page+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Accept", accept)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, resp.Header, string(b)
}

// A daemon is asked how it fares, over its page and over its socket; then its card fills up and its probe is pulled out.
func TestADaemonTellsHowItFares(t *testing.T) {
	state := t.TempDir()
	begin := time.Date(2026, 12, 3, 10, 0, 0, 0, time.UTC)
	l := startLive(t, state, begin)
	l.until(t, "a round", func() bool { return !l.walkedTo().Before(begin) && l.fares(t.Context()).Rounds.Valid > 0 })
	if code, h, body := l.asked(t, "/healthz", ""); code != 200 || !strings.Contains(body, "bus w1: well\n") || !strings.Contains(body, "journal: well\n") || h.Get("Cache-Control") != "no-store" {
		t.Errorf("%d %v\n%s", code, h, body)
	}
	code, h, body := l.asked(t, "/metrics", "")
	if code != 200 || h.Get("Content-Type") != vitals.MetricsType || !strings.HasSuffix(body, "# EOF\n") {
		t.Errorf("%d %v\n%s", code, h, body)
	}
	for _, want := range []string{"lathwatch_well 1.0\n", `lathwatch_bus_failures_total{bus="w1"} 0.0`, `lathwatch_way_waiting{way="mqtt"} 0.0`, `lathwatch_probe_silent{probe="D7-t"} 0.0`,
		`lathwatch_readings_total{quality="valid"} `, `lathwatch_alerts_standing{kind="frost-tonight"} 0.0`, `lathwatch_journal_commit_seconds_count `, `lathwatch_starts_on_record{ended="stopped"} 0.0`} {
		if !strings.Contains(body, want) {
			t.Errorf("%q is missing", want)
		}
	}
	c, err := Dial(state)
	if err != nil {
		t.Fatal(err)
	}
	r, err := c.Fares(t.Context())
	if err != nil || r.Rounds.Walked == 0 || len(r.Probes) != 1 || r.Probes[0].Value != "21.5 °C" || len(r.Starts) != 1 || r.Journal.Commits == 0 || r.Workers[0].Limit == 0 || len(r.Faults()) > 0 {
		t.Errorf("%v %+v %v", err, r, r.Faults())
	}

	l.degraded.Store(true)
	if code, _, body := l.asked(t, "/healthz", "application/json"); code != 503 {
		t.Errorf("a journal that cannot be written: %d %s", code, body)
	} else {
		var short struct {
			Well  bool
			Lines []vitals.Line
		}
		if err := json.Unmarshal([]byte(body), &short); err != nil || short.Well || len(short.Lines) < 4 {
			t.Errorf("%v %s", err, body)
		}
	}
	l.degraded.Store(false)
	l.end(t)
}

// A needed worker that has stopped makes the short answer 503, whichever it is.
func TestAWorkerThatStoppedIsNamed(t *testing.T) {
	d, err := New(t.Context(), Config{GardenPath: "garden.toml", GardenText: liveGarden, StateDir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	last := time.Now()
	d.faring.roster = []worker{{name: "walker", beat: func() time.Time { return last }, limit: time.Minute}, {name: "page"}}
	well := func() string {
		r := d.fares(t.Context())
		lines, _ := r.Well()
		return vitals.Shortly(lines[:1])
	}
	if got := well(); got != "walker: well\n" {
		t.Error(got)
	}
	last = last.Add(-2 * time.Minute)
	if got := well(); got != "walker: NOT WELL, no sign of life for 2m0s\n" {
		t.Error(got)
	}
}

// Unplugged: the probe's bus gives nothing, and once that has lasted the daemon says that it is deaf.
func TestAProbePulledOutIsCounted(t *testing.T) {
	l := startLive(t, t.TempDir(), time.Date(2026, 12, 3, 10, 0, 0, 0, time.UTC))
	l.until(t, "a round", func() bool { return l.fares(t.Context()).Rounds.Valid > 0 })
	if err := os.RemoveAll(filepath.Join(l.cfg.Root, "sys/bus/w1/devices/28-0000000000ab")); err != nil {
		t.Fatal(err)
	}
	l.until(t, "a round without it", func() bool { return l.fares(t.Context()).Buses[0].Down == 1 })
	r := l.fares(t.Context())
	if b := r.Buses[0]; b.Failed == 0 || b.Failed >= b.Asked || b.Share() <= 0 {
		t.Errorf("%+v", b)
	}
	if r.Rounds.Faults[0].Name != "silent" || r.Rounds.Faults[0].N == 0 || len(r.Faults()) == 0 {
		t.Errorf("%+v %v", r.Rounds, r.Faults())
	}
	if _, well := r.Well(); !well {
		t.Error("one missed round is no deafness yet")
	}
	r.Buses[0].Answered = time.Hour // later
	if _, well := r.Well(); well {
		t.Error("nothing has answered for an hour and all is well")
	}
	l.end(t)
}
