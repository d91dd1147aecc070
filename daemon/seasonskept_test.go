package daemon_test

import (
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/daemon"
	"lathwatch/dashboards"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/model"
)

// Nobody has asked for a review: once the night's work is done the ledger tells what differed, and a second night changes nothing.
func TestTheLedgerNeedsNoReviewToTellWhatDiffered(t *testing.T) {
	from, until := time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC), time.Date(2027, 9, 20, 0, 0, 0, 0, time.UTC)
	_, all := demoWinters(t, 6*time.Hour, from, until)
	for i, pot := range []string{"D7", "D8", "D9", "E1", "E2", "M1", "L1", "W1"} {
		for year, n := range map[int]string{2026: "3", 2027: []string{"6", "4"}[i%2]} {
			at := time.Date(year, 6, 1, 9, 0, 0, 0, time.UTC)
			all = append(all, sensors.Entry{At: at, Note: &sensors.Note{At: at, Subject: pot, What: sensors.Shoots, Detail: n}})
		}
	}
	dir := t.TempDir()
	written(t, dir, all)
	d, err := daemon.New(t.Context(), daemon.Config{GardenPath: "the demo's garden", GardenText: model.Demo, StateDir: dir, Now: func() time.Time { return until }})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	pages, err := dashboards.New(dashboards.Config{Standings: d, Mounts: d.YearPages(), Page: garden.Page{Listen: "127.0.0.1:0"}})
	if err != nil {
		t.Fatal(err)
	}
	page := func() string {
		w := httptest.NewRecorder()
		pages.ServeHTTP(w, httptest.NewRequest("GET", "http://127.0.0.1/ledger?season=2027", nil))
		return w.Body.String()
	}
	if got := page(); !strings.Contains(got, "4 of 8 plants doubled") || !strings.Contains(got, "Too little is on record to compare") {
		t.Error("before the first night something is compared already")
	}
	daemon.KeepSeasons(d, t.Context())
	if got := page(); !strings.Contains(got, "A difference is no cause.") || strings.Contains(got, "Too little is on record") {
		t.Error("the night's work is done and the ledger tells no difference")
	}
	rows, err := d.Journal().Seasons(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	daemon.KeepSeasons(d, t.Context())
	if again, err := d.Journal().Seasons(t.Context()); err != nil || !cmp.Equal(rows, again) {
		t.Errorf("the second night changed what is kept: %v", err)
	}
}
