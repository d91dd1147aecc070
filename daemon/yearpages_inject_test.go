package daemon_test

import (
	"encoding/xml"
	"errors"
	"io"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"lathwatch/daemon"
	"lathwatch/daemon/journal"
	"lathwatch/dashboards"
	"lathwatch/dashboards/sitter"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/model"
)

// TestNoTextBecomesMarkupOnTheYearsPages puts markup into every name of the garden, into what is noted and into what is asked for, and looks
// for it on every page of the year, in the sitter's sheets and in the picture.
func TestNoTextBecomesMarkupOnTheYearsPages(t *testing.T) {
	const bad = `"><script>alert(1)</script><b x='`
	text := regexp.MustCompile(`(?m)^(name|facing|mix|label) = "`).ReplaceAllString(model.Demo, `$0\"><script>alert(1)</script><b x='`)
	if strings.Count(text, "<script>") < 20 {
		t.Fatal("the demo's garden has no names any more")
	}
	from, until := time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC), time.Date(2027, 6, 20, 0, 0, 0, 0, time.UTC)
	_, all := demoWintersOf(t, text, 6*time.Hour, from, until)
	for i, n := range []sensors.Note{{Subject: "D7", What: sensors.Lost, Detail: bad}, {Subject: "D8", What: sensors.Remark, Detail: bad}, {Subject: "D8", What: sensors.Shoots, Detail: "3"},
		{Subject: "D9", What: sensors.Fed, Detail: bad}, {Subject: "garden", What: sensors.Away, Detail: "2027-06-21 2027-07-05"}} {
		n.At = until.Add(time.Duration(i-10) * time.Hour)
		all = append(all, sensors.Entry{At: n.At, Note: &n})
	}
	dir := t.TempDir()
	written(t, dir, all)
	j, err := journal.Open(filepath.Join(dir, "lathwatch.journal"), journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(j.AddGarden(t.Context(), from.Add(-time.Minute), text), j.Close()); err != nil {
		t.Fatal(err)
	}
	d, err := daemon.New(t.Context(), daemon.Config{GardenPath: "garden.toml", GardenText: text, StateDir: dir, Now: func() time.Time { return until }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = d.Close() })
	pages, err := dashboards.New(dashboards.Config{Standings: d, Mounts: d.YearPages(), Page: garden.Page{Listen: "127.0.0.1:0"}})
	if err != nil {
		t.Fatal(err)
	}
	q := url.QueryEscape(bad)
	shown := 0
	for _, path := range []string{"/review?season=2027", "/review?season=" + q, "/review?season=2027&place=" + q, "/review?season=2027&as=svg", "/review?as=" + q, "/ledger?season=2027", "/ledger?season=" + q, "/moves",
		"/sitter", "/sitter?from=2027-10-03&until=2027-10-17&phone=" + q, "/sitter?from=" + q + "&until=" + q, "/sitting/" + q, "/calendar/" + q + ".ics", "/" + q} {
		w := httptest.NewRecorder()
		pages.ServeHTTP(w, httptest.NewRequest("GET", "http://127.0.0.1"+path, nil))
		shown += told(t, path, w.Header().Get("Content-Type"), w.Body.String())
	}
	var sheet strings.Builder
	if err := sitter.Of(d.Standing()).HTML(&sheet); err != nil {
		t.Fatal(err)
	}
	shown += told(t, "the sitter's page", "text/html", sheet.String())
	if shown < 6 {
		t.Errorf("the names stand on %d pages only: this looks at nothing", shown)
	}
}

// told looks for markup in an answer a browser would draw, and gives 1 when the text stands there as words.
func told(t *testing.T, path, kind, body string) int {
	t.Helper()
	if strings.HasPrefix(kind, "image/svg") {
		for d := xml.NewDecoder(strings.NewReader(body)); ; {
			tok, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", path, err)
			}
			if e, ok := tok.(xml.StartElement); ok && (e.Name.Local == "script" || e.Name.Local == "b") {
				t.Errorf("%s holds a %s", path, e.Name.Local)
			}
		}
	}
	if !strings.HasPrefix(kind, "text/plain") && (strings.Contains(body, "<script>alert") || strings.Contains(body, "<b x=")) {
		t.Errorf("%s (%s) lets markup through", path, kind)
	}
	if strings.Contains(body, "&lt;script&gt;") {
		return 1
	}
	return 0
}
