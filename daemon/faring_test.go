package daemon

import (
	"encoding/json"
	"io"
	"net/http"
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

// A daemon is asked how it fares, over its page and over its socket; then its card fills up.
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
	body = ""
	l.until(t, "a journal that cannot be written to be told", func() bool { // an answer is given again for a second
		code, _, body = l.asked(t, "/healthz", "application/json")
		return code == 503
	})
	var short struct {
		Well  bool
		Lines []vitals.Line
	}
	if err := json.Unmarshal([]byte(body), &short); err != nil || short.Well || len(short.Lines) < 4 {
		t.Errorf("%v %s", err, body)
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
