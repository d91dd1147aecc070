package influx

import (
	"bufio"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"lathwatch/daemon/journal"
	"lathwatch/sensors"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

var (
	t0        = time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)
	sixteenth = units.Step{Unit: units.Temperature, Num: 125, Den: 2}
	bg        = context.Background()
)

func round(i int) sensors.Round {
	r := sensors.Round{At: t0.Add(time.Duration(i) * 5 * time.Minute)}
	for p := range 5 {
		r.Readings = append(r.Readings, sensors.Reading{Probe: sensors.ProbeID(fmt.Sprint("p", p)), Raw: int64(i + p), Step: sixteenth})
	}
	r.Faults = []sensors.Fault{{Probe: "p9", Kind: sensors.Silent, Why: "gone"}}
	return r
}

func filled(t *testing.T, n int) *journal.Journal {
	t.Helper()
	folder, err := os.MkdirTemp("/dev/shm", "influx-") // in memory where that is, so that no test waits for a card that syncs
	if err != nil {
		folder = t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	j, err := journal.Open(filepath.Join(folder, "j.journal"), journal.Options{Ballast: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = j.Close() })
	keep(t, j, 0, n)
	return j
}

func keep(t *testing.T, j *journal.Journal, from, n int) {
	t.Helper()
	var ks []journal.Kept
	for i := from; i < from+n; i++ {
		ks = append(ks, journal.Kept{Round: round(i)})
	}
	if err := j.KeepAll(bg, ks); err != nil {
		t.Fatal(err)
	}
}

// all is every line the journal would send, by the entries alone.
func all(t *testing.T, j *journal.Journal, node string) []string {
	t.Helper()
	var lines []string
	for e, err := range j.Entries(bg, time.Time{}, time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, Lines(node, e.Round)...)
	}
	slices.Sort(lines)
	return lines
}

// A server stands in for the real one: it stores by series and time, so that the same line twice is one.
type server struct {
	mu      sync.Mutex
	have    map[string]bool
	writes  int
	answer  func(lines []string) (status int, body string)
	queries []string
}

func (s *server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body := io.Reader(r.Body)
	if r.Header.Get("Content-Encoding") == "gzip" {
		z, err := gzip.NewReader(r.Body)
		if err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		body = z
	}
	var lines []string
	for sc := bufio.NewScanner(body); sc.Scan(); {
		lines = append(lines, sc.Text())
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.writes++
	s.queries = append(s.queries, r.URL.RawQuery+" "+r.Header.Get("Content-Encoding"))
	if s.answer != nil {
		if status, text := s.answer(lines); status != http.StatusNoContent {
			w.Header().Set("Content-Type", "application/json")
			w.WriteHeader(status)
			_, _ = fmt.Fprintf(w, `{"code":"invalid","message":%q}`, text)
			return
		}
	}
	for _, l := range lines {
		s.have[l] = true
	}
	w.WriteHeader(http.StatusNoContent)
}

func (s *server) lines() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var ls []string
	for l := range s.have {
		ls = append(ls, l)
	}
	slices.Sort(ls)
	return ls
}

func start(t *testing.T, answer func([]string) (int, string)) (*server, Settings) {
	t.Helper()
	s := &server{have: map[string]bool{}, answer: answer}
	h := httptest.NewServer(s)
	t.Cleanup(h.Close)
	return s, Settings{URL: h.URL, Bucket: "garden/autogen", Token: "u:p", Node: "lane-end", Every: units.Span(time.Second)}
}

func TestFieldLog(t *testing.T) {
	t.Run("X1_no_value_that_cannot_be_written", noUnencodable)
	t.Run("X2_outage_longer_than_any_queue", longOutage)
	t.Run("X3_server_that_never_answers", neverAnswers)
	t.Run("X4_rejected_points_are_set_aside", poison)
	t.Run("X7_times_are_milliseconds_after_2020", wrongTimes)
	t.Run("X8_older_than_the_server_keeps", tooOldForServer)
	t.Run("X10_stopped_in_an_outage", stoppedInOutage)
}

func noUnencodable(t *testing.T) {
	r := sensors.Round{At: t0}
	for u := units.Temperature; u.Known(); u++ {
		for _, raw := range []int64{0, -1, 1, 1<<53 + 1, -1 << 62} {
			r.Readings = append(r.Readings, sensors.Reading{Probe: "p", Raw: raw, Step: units.Whole(u), Quality: sensors.Suspect})
		}
	}
	for _, l := range Lines("n", &r) {
		if strings.Contains(l, "NaN") || strings.Contains(l, "Inf") || strings.Contains(l, "error=") || !strings.HasSuffix(l, " 1793491200000") || strings.HasPrefix(l, ",") {
			t.Errorf("%q", l)
		}
	}
}

func longOutage(t *testing.T) {
	down := true
	s, set := start(t, func([]string) (int, string) {
		if down {
			return http.StatusServiceUnavailable, "down"
		}
		return http.StatusNoContent, ""
	})
	j := filled(t, 90*288) // ninety days
	f := New(set, j, nil)
	for range 3 {
		if err := f.round(bg); err == nil {
			t.Fatal("an outage was taken for success")
		}
	}
	if _, ok, _ := j.Mark(bg, f.mark); ok {
		t.Error("the mark moved although nothing was acknowledged")
	}
	down = false
	f = New(set, j, nil) // restarted
	if err := f.round(bg); err != nil {
		t.Fatal(err)
	}
	if want := all(t, j, "lane-end"); !slices.Equal(s.lines(), want) {
		t.Errorf("%d lines at the server, want %d", len(s.lines()), len(want))
	}
	if !strings.Contains(s.queries[0], "precision=ms") || !strings.HasSuffix(s.queries[0], " gzip") {
		t.Errorf("written with %q", s.queries[0])
	}
	before := s.writes
	keep(t, j, 90*288, 3)
	if err := f.round(bg); err != nil || s.writes != before+1 {
		t.Errorf("three new rounds took %d writes, %v", s.writes-before, err)
	}
	// Late readings behind the mark are sent too, and only those rounds.
	late := sensors.Late{Readings: []sensors.LateReading{{At: t0.Add(time.Hour), Reading: sensors.Reading{Probe: "logger", Raw: 5, Step: sixteenth}}}}
	if _, err := j.AddLate(bg, t0, late); err != nil {
		t.Fatal(err)
	}
	if err := f.round(bg); err != nil || !slices.Equal(s.lines(), all(t, j, "lane-end")) {
		t.Errorf("after late readings: %v", err)
	}
	if n := len(s.lines()); f.Status().Sent > n+10 {
		t.Errorf("%d lines were sent for %d there", f.Status().Sent, n)
	}
}

func neverAnswers(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	j := filled(t, 10)
	set := Settings{URL: "http://" + l.Addr().String(), Bucket: "b", Node: "n", Every: units.Span(time.Second)}
	f := New(set, j, nil)
	ctx, cancel := context.WithTimeout(bg, 300*time.Millisecond)
	defer cancel()
	done := make(chan error, 1)
	go func() { done <- f.Run(ctx) }()
	keep(t, j, 10, 10) // the journal is not held up meanwhile
	select {
	case err := <-done:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(5 * time.Second):
		t.Fatal("the forwarder does not end")
	}
}

func poison(t *testing.T) {
	bad := func(l string) bool { return strings.HasPrefix(l, "temperature,node=lane-end,probe=p3 value=8 ") }
	s, set := start(t, func(lines []string) (int, string) {
		if slices.ContainsFunc(lines, bad) {
			return http.StatusUnprocessableEntity, "partial write: field type conflict: input field \"value\" dropped=1"
		}
		return http.StatusNoContent, ""
	})
	j := filled(t, 900) // 5,400 lines, of which p3 says 8 °C once
	f := New(set, j, nil)
	if err := f.round(bg); err != nil {
		t.Fatal(err)
	}
	want := slices.DeleteFunc(all(t, j, "lane-end"), bad)
	if !slices.Equal(s.lines(), want) {
		t.Errorf("%d lines at the server, want %d", len(s.lines()), len(want))
	}
	n, line, answer, err := j.Aside(bg, f.mark)
	if err != nil || n != 1 || !bad(line) || !strings.Contains(answer, "type conflict") || f.Status().Aside != 1 {
		t.Errorf("set aside: %d, %q, %q, %v", n, line, answer, err)
	}
	if s.writes > 40 {
		t.Errorf("finding one line took %d writes", s.writes)
	}
}

func wrongTimes(t *testing.T) {
	s, set := start(t, nil)
	j := filled(t, 2)
	for _, at := range []time.Time{time.Date(1970, 1, 18, 0, 55, 0, 0, time.UTC), time.Date(2019, 12, 31, 23, 59, 0, 0, time.UTC)} {
		if err := j.Keep(bg, sensors.Round{At: at, Readings: round(0).Readings}, nil); err != nil {
			t.Fatal(err)
		}
	}
	f := New(set, j, nil)
	if err := f.round(bg); err != nil {
		t.Fatal(err)
	}
	if got := len(s.lines()); got != 12 || f.Status().TooOld < 10 {
		t.Errorf("%d lines sent, %+v", got, f.Status())
	}
}

func tooOldForServer(t *testing.T) {
	s, set := start(t, func(lines []string) (int, string) {
		return http.StatusBadRequest, fmt.Sprintf("partial write: points beyond retention policy dropped=%d", min(7, len(lines)))
	})
	j := filled(t, 40)
	f := New(set, j, nil)
	if err := f.round(bg); err != nil || f.Status().TooOld != 7 || s.writes != 1 {
		t.Errorf("%v %+v, %d writes: what the server dropped as too old is counted, not halved", err, f.Status(), s.writes)
	}
	set.Keep = units.Span(time.Hour) // all of it is older
	f = New(set, j, nil)
	f.mark = "other"
	if err := f.round(bg); err != nil || f.Status().TooOld != 240 || s.writes != 1 {
		t.Errorf("%v %+v", err, f.Status())
	}
}

func stoppedInOutage(t *testing.T) {
	_, set := start(t, func([]string) (int, string) { return http.StatusServiceUnavailable, "down" })
	j := filled(t, 50)
	for range 20 {
		ctx, cancel := context.WithTimeout(bg, 10*time.Millisecond)
		if err := New(set, j, nil).Run(ctx); err != nil {
			t.Fatal(err)
		}
		cancel()
	}
}

func TestAServerInTroubleIsAskedSeldomAndLittle(t *testing.T) {
	_, set := start(t, nil)
	f := New(set, filled(t, 1), nil)
	before := time.Duration(0)
	for i := range 12 {
		wait := f.failed(fmt.Errorf("no"))
		if wait > restFor*6/5 || i < 6 && wait < before {
			t.Errorf("attempt %d waits %v after %v", i, wait, before)
		}
		before = wait
	}
	if st := f.Status(); !st.Resting || st.Failures != 12 {
		t.Errorf("%+v", st)
	}
	for _, status := range []int{401, 403, 404, 500, 503} {
		s, set := start(t, func([]string) (int, string) { return status, "no" })
		j := filled(t, 5)
		f := New(set, j, nil)
		if err := f.round(bg); err == nil {
			t.Errorf("%d was taken for success", status)
		}
		if n, _, _, _ := j.Aside(bg, f.mark); n != 0 || s.writes != 1 {
			t.Errorf("%d: %d set aside after %d writes: only a refusal of the line itself does that", status, n, s.writes)
		}
	}
}

func TestTheBlockIsReadStrictly(t *testing.T) {
	for body, want := range map[string]string{
		"bucket = \"b\"":                                     "url",
		"url = \"localhost\"\nbucket = \"b\"":                "server's address",
		"url = \"http://h:1\"":                               "bucket",
		"url = \"http://h:1\"\nbucket = \"b\"\nkeep = 30":    "keep",
		"url = \"http://h:1\"\nbucket = \"b\"\nbukcet = 1":   "bukcet",
		"url = \"http://h:1\"\nbucket = \"b\"\nnode = \"Ä\"": "node",
	} {
		if _, err := Read(table.Raw{Name: "influx", Path: "influx", Line: 1, Body: body}, "site"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q gives %v", body, err)
		}
	}
	s, err := Read(table.Raw{Name: "influx", Path: "influx", Line: 1, Body: "url = \"http://h:1\"\nbucket = \"b\"\nkeep = \"400 d\""}, "site")
	if err != nil || s.Node != "site" || s.Keep.Duration() != 400*24*time.Hour {
		t.Errorf("%+v, %v", s, err)
	}
}

func TestManyNodesShareAServer(t *testing.T) {
	s, set := start(t, nil)
	total := 0
	for n := range 200 {
		j := filled(t, 3)
		set.Node = fmt.Sprintf("node-%03d", n)
		if err := New(set, j, nil).round(bg); err != nil {
			t.Fatal(err)
		}
		total += len(all(t, j, set.Node))
		_ = j.Close()
	}
	if got := len(s.lines()); got != total || total != 200*18 {
		t.Errorf("%d lines of 200 nodes, want %d", got, total)
	}
}
