package push_test

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rogpeppe/go-internal/txtar"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// harness runs a way with a story's settings against the other side it needs and tells what went over the wire.
type harness func(t *testing.T, settings string, box *outbox) string

var harnesses = map[string]harness{"mqtt": overMQTT, "post": overPost, "mail": overMail}

// The exam every way out passes: a name and a sentence, an example that opens, a story beside it in testdata/ways, what it sends,
// and what it refuses, in whole sentences.
func TestExam(t *testing.T) {
	stories, err := filepath.Glob("testdata/ways/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range push.All() {
		path := filepath.Join("testdata", "ways", w.Name+".txtar")
		stories = slices.DeleteFunc(stories, func(s string) bool { return s == path })
		t.Run(w.Name, func(t *testing.T) {
			if !garden.SafeID(w.Name) || w.Name != strings.ToLower(w.Name) {
				t.Errorf("the name %q may not be a table's name", w.Name)
			}
			if !strings.HasSuffix(w.Doc, ".") || strings.Count(w.Doc, ". ") > 0 {
				t.Errorf("the doc is not one sentence: %q", w.Doc)
			}
			r, err := w.Open(table.Raw{Name: w.Name, Path: "push " + w.Name, Line: 1, Body: w.Example}, push.Env{Site: site})
			if err != nil {
				t.Fatalf("its own example is refused: %v", err)
			}
			if r.Name() != w.Name {
				t.Errorf("the runner calls itself %q", r.Name())
			}
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatalf("it has no story: write %s with settings.toml, sent and refused/*.toml with their *.want: %v", path, err)
			}
			run, known := harnesses[w.Name]
			if !known {
				t.Fatal("nothing here plays its other side: add it to harnesses")
			}
			story(t, w, run, txtar.Parse(b))
		})
	}
	for _, s := range stories {
		t.Errorf("%s tells of no way on the shelf", s)
	}
	if !slices.IsSortedFunc(push.All(), func(a, b push.Way) int { return strings.Compare(a.Name, b.Name) }) {
		t.Error("All is not sorted")
	}
}

func story(t *testing.T, w push.Way, run harness, a *txtar.Archive) {
	files := map[string]string{}
	refusals := 0
	for _, f := range a.Files {
		files[f.Name] = string(f.Data)
	}
	if files["settings.toml"] == "" || files["sent"] == "" {
		t.Fatal("the story lacks settings.toml or sent")
	}
	for _, f := range a.Files {
		if !strings.HasPrefix(f.Name, "refused/") || !strings.HasSuffix(f.Name, ".toml") {
			continue
		}
		refusals++
		want := strings.TrimSpace(files[strings.TrimSuffix(f.Name, ".toml")+".want"])
		_, err := w.Open(table.Raw{Name: w.Name, Path: "push " + w.Name, Line: 40, Body: string(f.Data)}, push.Env{Site: site, Local: &pages{}})
		if got := fmt.Sprint(err); got != want {
			t.Errorf("%s:\n got %s\nwant %s", f.Name, got, want)
		}
	}
	if refusals == 0 {
		t.Error("the story says nothing of what is refused")
	}
	box := newOutbox()
	up, over := change(0), change(1)
	up.State, over.State = alerts.Raised, alerts.Cleared
	box.add(up, over)
	if d := cmp.Diff(files["sent"], run(t, files["settings.toml"], box)); d != "" {
		t.Errorf("what went over the wire differs (-story +sent):\n%s", d)
	}
}

func overMQTT(t *testing.T, settings string, box *outbox) string {
	p := &pages{}
	stop := start(t, open(t, "mqtt", settings, push.Env{Local: p, Outbox: box}))
	eventually(t, 5*time.Second, "the outbox was not emptied", func() bool { return box.done() == 2 })
	stop()
	lines := slices.DeleteFunc(p.all(), func(l string) bool { return strings.HasPrefix(l, topics.About()) }) // has a test of its own
	return strings.Join(lines, "\n") + "\n"
}

func overPost(t *testing.T, settings string, box *outbox) string {
	var mu sync.Mutex
	var sent strings.Builder
	srv := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		mu.Lock()
		defer mu.Unlock()
		b, _ := io.ReadAll(r.Body)
		fmt.Fprintf(&sent, "%s %s\n", r.Method, r.URL)
		for _, name := range []string{"User-Agent", "Content-Type", "X-Title"} {
			if v := r.Header.Get(name); v != "" {
				fmt.Fprintf(&sent, "%s: %s\n", name, v)
			}
		}
		fmt.Fprintf(&sent, "\n%s\n", b)
	}))
	defer srv.Close()
	stop := start(t, open(t, "post", strings.ReplaceAll(settings, "$ADDRESS", srv.Listener.Addr().String()), push.Env{Outbox: box}))
	eventually(t, 5*time.Second, "the outbox was not emptied", func() bool { return box.done() == 2 })
	stop()
	mu.Lock()
	defer mu.Unlock()
	return sent.String()
}

func overMail(t *testing.T, settings string, box *outbox) string {
	r := newRelay(t, nil)
	host, port, _ := strings.Cut(r.l.Addr().String(), ":")
	settings = strings.NewReplacer("$HOST", host, "$PORT", port).Replace(settings)
	stop := start(t, open(t, "mail", settings, push.Env{Outbox: box}))
	eventually(t, 10*time.Second, "the outbox was not emptied", func() bool { return box.done() == 2 })
	stop()
	var sent strings.Builder
	for _, l := range r.lines {
		if strings.HasPrefix(l, "MAIL") || strings.HasPrefix(l, "RCPT") {
			sent.WriteString(l + "\n")
		}
		if strings.HasPrefix(l, "RCPT") {
			break
		}
	}
	head, text, _ := strings.Cut(strings.ReplaceAll(r.all()[0], "\r\n", "\n"), "\n\n")
	lines := strings.Split(head, "\n")
	slices.Sort(lines)
	id := regexp.MustCompile(`<[0-9a-f]{24}@`)
	return sent.String() + id.ReplaceAllString(strings.Join(lines, "\n"), "<...@") + "\n\n" + text
}
