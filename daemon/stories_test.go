package daemon

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"lathwatch/alerts"
	"lathwatch/daemon/config"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/tape"
)

// A story is a tale a grower can read: a garden, readings, notes, and what must, may and must never be said. What a story
// expects is written by hand.
//
//	must 1 root-cold 2026-01-15 .. 2026-01-17 D7     exactly so many messages of the kind, naming the pots, sent in these days
//	only 1 root-cold                                 so many in the whole tale
//	may 1 dress-now 2027-01-26 .. 2027-02-08 E1      at most so many in the whole tale, in these days, naming these pots only
//	never water water-light                          none in the whole tale
//	notnamed warm-spell M1 L1                        no message of the kind names them
//	text water-light "regexp"                        every message of the kind matches
//	unsaid "regexp"                                  no message of any kind matches
//	clock water-light 07:00 .. 11:00                 sent between these civil times
//	state 2026-01-26T12:00 D7 frozen=false wetness=49..51
type story struct {
	id, tale string
	garden   *garden.Garden
	rows     []tape.Row
	notes    []sensors.Note
	late     []sensors.Entry // what loggers deliver after its time, by arrival
	toml     string          // the garden as written
	expect   []string
}

func loadStory(t testing.TB, path string) *story {
	t.Helper()
	told, _ := stories.LoadOrStore(path, sync.OnceValue(func() *story {
		return loadStoryAs(t, path, func(g string) string { return g })
	}))
	return told.(func() *story)()
}

// stories are read once for all tests; nobody changes one.
var stories sync.Map

// loadStoryAs reads a story with its garden changed.
func loadStoryAs(t testing.TB, path string, edit func(garden string) string) *story {
	t.Helper()
	ar, err := txtar.ParseFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s := &story{id: strings.TrimSuffix(filepath.Base(path), ".txtar"), tale: string(ar.Comment)}
	files := map[string][]byte{}
	for _, f := range ar.Files {
		files[f.Name] = f.Data
	}
	s.toml = edit(string(files["garden.toml"]))
	if s.garden, err = config.Parse("garden.toml", []byte(s.toml)); err != nil {
		t.Fatal(err)
	}
	gen := storyReadings{zone: s.garden.Site.Zone, every: 10 * time.Minute, units: map[string]string{}, lines: map[string][]knot{}}
	if err := gen.parse(string(files["readings"])); err != nil {
		t.Fatal(err)
	}
	rows, bad, err := tape.ReadReadings("readings.csv", bytes.NewReader(gen.csv()))
	if err != nil || len(bad) > 0 {
		t.Fatal(err, bad)
	}
	s.rows = rows
	s.loggers(t, &gen)
	if n := files["notes.csv"]; n != nil {
		notes, bad, err := tape.ReadNotes("notes.csv", bytes.NewReader(n))
		if err != nil || len(bad) > 0 {
			t.Fatal(err, bad)
		}
		s.notes = notes
	}
	s.expect = strings.Split(strings.TrimSpace(string(files["expect"])), "\n")
	return s
}

// told is what a run of a story said and answered.
type told struct {
	said   []alerts.Change
	states map[string]map[string]any // "time pot"
	widths []width
}

func (s *story) tell(t testing.TB, rules []alerts.Rule) told {
	t.Helper()
	if len(s.late) > 0 {
		return s.tellLate(t, rules)
	}
	out := told{states: map[string]map[string]any{}}
	r := Rehearsal{Garden: s.garden, Entries: Admit(s.garden, tape.Entries(s.rows, s.garden.Site.Every, s.notes)), Rules: rules, Undone: Undone(s.notes),
		Said:  func(c alerts.Change) error { out.said = append(out.said, c); return nil },
		State: out.state, StateAt: s.stateAt(t)}
	r.After = func(at time.Time, w *Walk) { out.widths = append(out.widths, width{at, widest(w.fold.Live())}) }
	if _, err := r.Run(); err != nil {
		t.Fatal(err)
	}
	return out
}

// state keeps one state line.
func (out *told) state(line []byte) error {
	var m map[string]any
	if err := json.Unmarshal(line, &m); err != nil {
		return err
	}
	who, _ := m["pot"].(string)
	if who == "" {
		who, _ = m["place"].(string)
	}
	out.states[fmt.Sprint(m["state_at"])+" "+who] = m
	return nil
}

// stateAt lists the moments a story asks about.
func (s *story) stateAt(t testing.TB) (asked []time.Time) {
	for _, e := range s.expect {
		if f := strings.Fields(e); len(f) > 2 && f[0] == "state" {
			asked = append(asked, s.moment(t, f[1]))
		}
	}
	return asked
}

func (s *story) moment(t testing.TB, v string) time.Time {
	t.Helper()
	for _, layout := range []string{"2006-01-02T15:04", "2006-01-02"} {
		if at, err := time.ParseInLocation(layout, v, s.garden.Site.Zone); err == nil {
			return at
		}
	}
	t.Fatalf("story %s: %q is no moment", s.id, v)
	return time.Time{}
}

// check compares what was told with what is expected and returns a sentence for each difference.
func (s *story) check(t testing.TB, out told) (wrong []string) {
	t.Helper()
	for _, e := range s.expect {
		f := strings.Fields(e)
		if len(f) == 0 {
			continue
		}
		if w := s.line(t, out, e, f); w != "" {
			wrong = append(wrong, e+": "+w)
		}
	}
	return wrong
}

func (s *story) line(t testing.TB, out told, e string, f []string) string {
	switch f[0] {
	case "must":
		return s.must(t, out, f)
	case "may":
		return s.may(t, out, f)
	case "only":
		n := len(kind(out.said, f[2]))
		if strconv.Itoa(n) != f[1] {
			return fmt.Sprintf("%d were sent\n%s", n, list(kind(out.said, f[2])))
		}
	case "never":
		for _, k := range f[1:] {
			if got := kind(out.said, k); len(got) > 0 {
				return "sent\n" + list(got)
			}
		}
	case "notnamed":
		for _, c := range kind(out.said, f[1]) {
			for _, p := range f[2:] {
				if slices.Contains(c.Pots, p) {
					return p + " is named\n" + list([]alerts.Change{c})
				}
			}
		}
	case "text":
		_, pattern, _ := strings.Cut(e, `"`)
		re := regexp.MustCompile(strings.TrimSuffix(strings.TrimSpace(pattern), `"`))
		for _, c := range kind(out.said, f[1]) {
			if !re.MatchString(c.Text) {
				return "text is " + c.Text
			}
		}
	case "unsaid":
		_, pattern, _ := strings.Cut(e, `"`)
		re := regexp.MustCompile(strings.TrimSuffix(strings.TrimSpace(pattern), `"`))
		for _, c := range out.said {
			if re.MatchString(c.Text) {
				return "text is " + c.Text
			}
		}
	case "clock":
		for _, c := range kind(out.said, f[1]) {
			if at := c.At.In(s.garden.Site.Zone).Format("15:04"); at < f[2] || at > f[4] {
				return "sent at " + at
			}
		}
	case "state":
		return s.state(t, out, f)
	case "digests":
		return s.digests(t, out, f)
	case "nottext":
		return s.nottext(out, e, f)
	case "wide":
		return s.wide(t, out, f)
	case "quiet":
		return s.quiet(t, out, f)
	case "sitter":
		return s.toSitter(out, f)
	default:
		t.Fatalf("story %s: unknown line %q", s.id, e)
	}
	return ""
}

func (s *story) must(t testing.TB, out told, f []string) string {
	from, until := s.span(t, f[3], f[5])
	n := 0
	for _, c := range kind(out.said, f[2]) {
		if c.At.Before(from) || !c.At.Before(until) {
			continue
		}
		n++
		want, got := slices.Sorted(slices.Values(f[6:])), slices.Sorted(slices.Values(c.Pots))
		if len(want) > 0 && !slices.Equal(want, got) {
			return fmt.Sprintf("names %v\n%s", c.Pots, list(kind(out.said, f[2])))
		}
	}
	if strconv.Itoa(n) != f[1] {
		return fmt.Sprintf("%d in that span\n%s", n, list(kind(out.said, f[2])))
	}
	return ""
}

func (s *story) may(t testing.TB, out told, f []string) string {
	from, until := s.span(t, f[3], f[5])
	all := kind(out.said, f[2])
	if n, err := strconv.Atoi(f[1]); err != nil || len(all) > n {
		return fmt.Sprintf("%d were sent\n%s", len(all), list(all))
	}
	for _, c := range all {
		if c.At.Before(from) || !c.At.Before(until) || slices.ContainsFunc(c.Pots, func(p string) bool { return !slices.Contains(f[6:], p) }) {
			return "sent\n" + list(all)
		}
	}
	return ""
}

// span gives the first instant and the first one after; a day's name stands for all of it.
func (s *story) span(t testing.TB, first, last string) (from, until time.Time) {
	from, until = s.moment(t, first), s.moment(t, last)
	if len(last) == len(time.DateOnly) {
		until = until.AddDate(0, 0, 1)
	}
	return from, until
}

func (s *story) state(t testing.TB, out told, f []string) string {
	m := out.states[s.moment(t, f[1]).UTC().Format(time.RFC3339)+" "+f[2]]
	if m == nil {
		return "no state"
	}
	for _, kv := range f[3:] {
		k, want, _ := strings.Cut(kv, "=")
		if got := m[k]; !matches(got, want) {
			return fmt.Sprintf("%s is %v", k, got)
		}
	}
	return ""
}

// matches compares a JSON value with a word, a figure, "lo..hi" (a pair must lie within it), "~x" (a pair must hold it), "pre*" or "null"; "?" stands
// for a blank.
func matches(got any, want string) bool {
	lo, hi, span := strings.Cut(want, "..")
	a, errA := strconv.ParseFloat(lo, 64)
	b, errB := strconv.ParseFloat(hi, 64)
	if !span {
		b, errB = a, errA
	}
	switch v := got.(type) {
	case float64:
		return errA == nil && errB == nil && v >= a-1e-9 && v <= b+1e-9
	case []any:
		if in, about := strings.CutPrefix(want, "~"); about && len(v) == 2 {
			x, err := strconv.ParseFloat(in, 64)
			return err == nil && v[0].(float64) <= x && x <= v[1].(float64)
		}
		return len(v) == 2 && matches(v[0], want) && matches(v[1], want)
	case nil:
		return want == "null" || want == "*"
	}
	want = strings.ReplaceAll(want, "?", " ")
	if pre, ok := strings.CutSuffix(want, "*"); ok {
		return strings.HasPrefix(fmt.Sprint(got), pre)
	}
	return fmt.Sprint(got) == want
}

func kind(said []alerts.Change, k string) (of []alerts.Change) {
	for _, c := range said {
		if c.Kind == k {
			of = append(of, c)
		}
	}
	return of
}

func list(said []alerts.Change) string {
	var b strings.Builder
	for _, c := range said {
		fmt.Fprintf(&b, "  %s %s %s %v %s\n", c.At.Format(time.RFC3339), c.Kind, c.State, c.Pots, c.Text)
	}
	return b.String()
}

func storyFiles(t testing.TB) []string {
	t.Helper()
	files, err := filepath.Glob("../testdata/stories/*.txtar")
	if err != nil || len(files) == 0 {
		t.Fatal("no stories", err)
	}
	return files
}

func TestStories(t *testing.T) {
	for _, path := range storyFiles(t) {
		s := loadStory(t, path)
		t.Run(s.id, func(t *testing.T) {
			t.Parallel()
			out := s.tell(t, nil)
			for _, w := range s.check(t, out) {
				t.Error(w)
			}
			if t.Failed() || testing.Verbose() {
				t.Log("all messages:\n" + list(out.said))
			}
			if to := os.Getenv("LATHWATCH_WRITE_STORY"); to != "" {
				s.writeTo(t, filepath.Join(to, s.id))
			}
			if os.Getenv("STORY_STATES") != "" {
				for k, m := range out.states {
					t.Log(k, m)
				}
			}
		})
	}
}
