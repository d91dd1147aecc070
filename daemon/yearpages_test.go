package daemon_test

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"lathwatch/daemon"
	"lathwatch/dashboards"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/model"
)

// yearOfShoots is a daemon over a journal of half a demo year, a round every so often, in which half of the plants doubled, and its pages.
func yearOfShoots(t *testing.T, every time.Duration) (*daemon.Daemon, *dashboards.Pages) {
	t.Helper()
	from, until := time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC), time.Date(2027, 9, 20, 0, 0, 0, 0, time.UTC)
	_, all := demoWinters(t, every, from, until)
	count := func(at time.Time, pot, n string) {
		all = append(all, sensors.Entry{At: at, Note: &sensors.Note{At: at, Subject: pot, What: sensors.Shoots, Detail: n}})
	}
	for i, pot := range []string{"D7", "D8", "D9", "E1", "E2", "M1", "L1", "W1"} {
		count(time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC), pot, "3")
		count(time.Date(2027, 6, 1, 9, 0, 0, 0, time.UTC), pot, []string{"6", "4"}[i%2])
	}
	dir := t.TempDir()
	written(t, dir, all)
	d, err := daemon.New(t.Context(), daemon.Config{GardenPath: "the demo's garden", GardenText: model.Demo, StateDir: dir, Now: func() time.Time { return until }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = d.Close() })
	pages, err := dashboards.New(dashboards.Config{Standings: d, Mounts: d.YearPages(), Page: garden.Page{Listen: "127.0.0.1:0"}})
	if err != nil {
		t.Fatal(err)
	}
	return d, pages
}

// The year's pages behind the pages' own doors, over a journal of half a demo year with shoots counted twice.
func TestTheYearsPagesAreServedBehindTheDoors(t *testing.T) {
	_, pages := yearOfShoots(t, 3*time.Hour)
	get := func(path string) (int, string, http.Header) {
		w := httptest.NewRecorder()
		r := httptest.NewRequest("GET", "http://127.0.0.1"+path, nil)
		pages.ServeHTTP(w, r)
		if *reviews != "" && w.Code == 200 {
			name := regexp.MustCompile(`[^a-z0-9]+`).ReplaceAllString(path, "-")
			os.WriteFile(filepath.Join(*reviews, "page"+name+".html"), w.Body.Bytes(), 0o644)
		}
		return w.Code, w.Body.String(), w.Header()
	}
	for _, c := range []struct {
		path   string
		status int
		want   string
	}{{"/review?season=2027", 200, "The winter of 2026 to 2027 at Lower Tansy Bank"}, {"/review?as=png", 200, "PNG"}, {"/review?season=1999", 404, ""},
		{"/ledger?season=2027", 200, "4 of 8 plants doubled"}, {"/ledger?as=csv", 200, "2027,franchetii,6,"}, {"/ledger?season=x", 422, ""},
		{"/moves", 200, "the next fortnight"}, {"/sitter", 200, "First day away"}, {"/sitter?from=2027-10-03&until=2027-10-17", 200, "Looking after the pots at Lower Tansy Bank, 3 October to 17 October"}, {"/sitter?from=2027-10-03", 422, ""},
		{"/calendar/nothing-anybody-was-ever-given.ics", 404, ""}} {
		status, body, head := get(c.path)
		if status != c.status || !strings.Contains(body, c.want) {
			t.Errorf("%s: %d, want %d with %q", c.path, status, c.status, c.want)
		}
		if strings.HasPrefix(head.Get("Content-Type"), "text/html") && status == 200 && strings.Contains(strings.Replace(head.Get("Content-Security-Policy"), "script-src 'self'", "", 1), "script") {
			t.Errorf("%s: %s", c.path, head.Get("Content-Security-Policy"))
		}
	}
	if _, body, _ := get("/"); !strings.Contains(body, `href="/ledger"`) || !strings.Contains(body, `href="/review"`) || !strings.Contains(body, `href="/sitter"`) {
		t.Error("the menu does not lead to the year's pages")
	}
	if _, body, _ := get("/ledger?season=2027"); !strings.Contains(body, "Pots worth a probe") || !strings.Contains(body, "What differed for plants that did not double") {
		t.Error(body)
	}
}
