package daemon

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"lathwatch/sensors/tape"
)

// askable is a daemon whose walker takes asks, without probes, pages or ways out.
func askable(t testing.TB, now time.Time) (*Daemon, func()) {
	t.Helper()
	dir, err := os.MkdirTemp("/dev/shm", "asked-")
	if err != nil {
		dir = t.TempDir()
	}
	d, err := New(t.Context(), Config{GardenPath: "garden.toml", GardenText: liveGarden, StateDir: dir, Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	over := make(chan struct{})
	go func() {
		defer close(over)
		for {
			select {
			case f := <-d.asks:
				f()
			case <-ctx.Done():
				return
			}
		}
	}()
	return d, func() {
		cancel()
		<-over
		_ = d.journal.Close()
		_ = os.RemoveAll(dir)
	}
}

// FuzzAsked: whatever is asked on the command socket, the answer is JSON (or figures) with an error in words when it is refused; the notes on
// record are all in their strict form and none is later than now; the readings on record can be counted out.
func FuzzAsked(f *testing.F) {
	paths := []string{"POST /note", "POST /notes", "POST /import", "POST /sitter", "POST /calendar", "GET /review", "GET /state", "GET /health", "POST /push-test", "POST /relearn"}
	for _, s := range []string{`{"Subject":"D7","What":"watered","Detail":"150"}`, `{"Subject":"D7","What":"remark","Detail":"a\u001b[31mb","ID":"x\ny"}`, `{"Subject":"D7","What":"nose","At":"2026-10-01T00:00:00Z"}`,
		`[{"Subject":"D7","What":"fed","At":"0001-01-01T00:00:00Z"},{"Subject":"D7","What":"watered","At":"2035-01-01T00:00:00Z"}]`,
		`[{"At":"2026-11-01T00:00:00Z","Probe":"D7-t","Raw":4125,"Step":{"Unit":1,"Num":1,"Den":1}}]`, `[{"At":"2026-11-01T00:00:00Z","Probe":"D7-t","Raw":9223372036854775807,"Step":{"Unit":1,"Num":2147483647,"Den":0}}]`,
		`[{"At":"9999-11-01T00:00:00Z","Probe":"","Raw":1,"Step":{"Unit":200,"Num":-1,"Den":-1}}]`, `{"New":true}`, `{"from":20600,"until":20610}`, `{"From":-9223372036854775808,"Until":9223372036854775807}`, "season=2027", "season=-1", "way=%00", "null", ""} {
		for i := range paths {
			f.Add(uint8(i), s)
		}
	}
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	d, end := askable(f, now)
	f.Cleanup(func() { end() })
	asked := 0
	f.Fuzz(func(t *testing.T, which uint8, body string) {
		if asked++; asked%300 == 0 { // so that the journal stays small
			end()
			d, end = askable(t, now)
		}
		method, path, _ := strings.Cut(paths[int(which)%len(paths)], " ")
		r := httptest.NewRequest(method, "http://lathwatch"+path, strings.NewReader(body)).WithContext(t.Context())
		r.URL.RawQuery = body
		if _, err := url.ParseQuery(body); err != nil {
			r.URL.RawQuery = ""
		}
		w := httptest.NewRecorder()
		d.commands().ServeHTTP(w, r)
		var v any
		if err := json.Unmarshal(w.Body.Bytes(), &v); err != nil {
			t.Fatalf("%s %q is answered %d %.200q", path, body, w.Code, w.Body)
		}
		m, _ := v.(map[string]any)
		if say, _ := m["error"].(string); w.Code != http.StatusOK && say == "" {
			t.Errorf("%s %q is refused with %d and no word", path, body, w.Code)
		}
		onRecord(t, d, now)
	})
}

func onRecord(t *testing.T, d *Daemon, now time.Time) {
	notes, err := d.journal.Notes(t.Context(), time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range notes {
		if strict, err := tape.Checked(n); err != nil || strict != n || n.At.After(now.Add(time.Minute)) {
			t.Errorf("on record is %+v: %v", n, err)
		}
	}
	for e, err := range d.journal.Entries(t.Context(), time.Time{}, time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		if e.Round == nil {
			continue
		}
		for _, r := range e.Round.Readings {
			if r.Probe == "" || !r.Unit().Known() || r.Step.Den <= 0 || r.Step.Num == 0 || e.At.Year() < 1970 || e.At.Year() > 2200 {
				t.Errorf("on record at %v is %+v", e.At, r)
			}
		}
	}
}
