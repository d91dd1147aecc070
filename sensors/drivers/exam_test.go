package drivers

import (
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
)

const stories = "../../testdata/drivers"

// TestEveryDriverHasItsStories walks the shelf: each entry has an example that parses and conversations that hold.
func TestEveryDriverHasItsStories(t *testing.T) {
	for _, d := range All() {
		t.Run(d.Name, func(t *testing.T) {
			if d.Doc == "" {
				t.Errorf("driver %s has no sentence for the keeper", d.Name)
			}
			probes := probesOf(t, d.Example)
			if len(probes) == 0 {
				t.Fatalf("driver %s has no example block", d.Name)
			}
			for _, p := range probes {
				if _, err := ParseProbe(p); err != nil || p.Source.Name != d.Name {
					t.Errorf("the example of %s does not pass (it is for %q): %v", d.Name, p.Source.Name, err)
				}
			}
			for _, kind := range []string{"good", "broken"} {
				files, _ := filepath.Glob(filepath.Join(stories, d.Name, kind+"-*.txtar"))
				if len(files) == 0 {
					t.Errorf("driver %s has no %s conversation: write testdata/drivers/%s/%s-something.txtar", d.Name, kind, d.Name, kind)
				}
				for _, f := range files {
					t.Run(strings.TrimSuffix(filepath.Base(f), ".txtar"), func(t *testing.T) { play(t, d, kind, f) })
				}
			}
		})
	}
}

// TestNoStoryWithoutADriver keeps a renamed driver's stories from being forgotten.
func TestNoStoryWithoutADriver(t *testing.T) {
	dirs, _ := os.ReadDir(stories)
	for _, dir := range dirs {
		if _, ok := Named(dir.Name()); dir.IsDir() && !ok {
			t.Errorf("testdata/drivers/%s belongs to no driver", dir.Name())
		}
	}
}

// A verb acts one kind of section.
type verb struct {
	name string // first word of the header
	real bool   // the story runs in real time, outside the bubble
	act  func(t *testing.T, w *world, args []string, body string)
}

var verbs = map[string]verb{}

func addVerb(v verb) { verbs[v.name] = v }

// world is what a story acts on.
type world struct {
	root    string
	env     Env
	driver  Driver
	wishes  []Wish
	sources []Source
	topics  *fakeTopics
	errs    map[string][]error // by path below the root
	notices []string
	seen    struct{ reading, fault bool }
	keep    map[string]any       // for verbs of other files
	atEnd   []func(t *testing.T) // e.g. "was every line of the conversation used"
}

func play(t *testing.T, d Driver, kind, path string) {
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	act(t, d, kind, path, string(b))
}

// act plays a story's text. A kind of "" may end in anything.
func act(t *testing.T, d Driver, kind, path, text string) {
	comment, sections := txtar(text)
	if kind != "" && len(strings.TrimSpace(comment)) < 20 {
		t.Errorf("%s does not say what happens", path)
	}
	inReal := false
	for _, s := range sections {
		v, ok := verbs[s.words[0]]
		if !ok {
			t.Fatalf("%s: no such section as %q", path, s.words[0])
		}
		inReal = inReal || v.real
	}
	root := t.TempDir()
	story := func(t *testing.T) {
		w := newWorld(root, d)
		for _, s := range sections {
			verbs[s.words[0]].act(t, w, s.words[1:], s.body)
		}
		for _, s := range w.sources {
			if err := s.Close(); err != nil {
				t.Errorf("closing: %v", err)
			}
		}
		for _, end := range w.atEnd {
			end(t)
		}
		if kind == "good" && !w.seen.reading {
			t.Errorf("%s: a good conversation has a reading in it", path)
		}
		if kind == "broken" && !w.seen.fault {
			t.Errorf("%s: a broken conversation ends in a fault or a refusal", path)
		}
	}
	if inReal {
		story(t)
	} else {
		synctest.Test(t, story)
	}
}

// A section is one file of a txtar archive; its name is cut into words.
type section struct {
	words []string
	body  string
}

func txtar(text string) (comment string, sections []section) {
	for line := range strings.Lines(text) {
		name, ok := strings.CutPrefix(strings.TrimSpace(line), "-- ")
		if name, isHeader := strings.CutSuffix(name, " --"); ok && isHeader {
			sections = append(sections, section{words: strings.Fields(name)})
		} else if len(sections) == 0 {
			comment += line
		} else {
			sections[len(sections)-1].body += line
		}
	}
	return comment, sections
}

func newWorld(root string, d Driver) *world {
	w := &world{root: root, driver: d, topics: &fakeTopics{}, errs: map[string][]error{}, keep: map[string]any{}}
	w.env = Env{Root: root, Topics: w.topics, Log: slog.New(slog.DiscardHandler)}
	w.env.Notice = func(bus, text string) {
		if line := bus + ": " + text; !slices.Contains(w.notices, line) {
			w.notices = append(w.notices, line)
		}
	}
	w.env.read = func(path string, limit int64) ([]byte, error) {
		rel, _ := filepath.Rel(root, path)
		if left := w.errs[rel]; len(left) > 0 {
			w.errs[rel] = left[1:]
			return nil, &os.PathError{Op: "read", Path: path, Err: left[0]}
		}
		return readBounded(path, limit)
	}
	return w
}

func (w *world) path(p string) string { return filepath.Join(w.root, p) }

// open opens every chip of the story's probes, as poll would.
func (w *world) open() error {
	groups, err := Group(w.wishes)
	if err != nil {
		return err
	}
	for _, w2 := range w.wishes {
		if w2.Check != nil {
			if err := w2.Check(w.env); err != nil {
				return err
			}
		}
	}
	for _, g := range groups {
		s, err := g[0].Open(w.env, g)
		if err != nil {
			return err
		}
		w.sources = append(w.sources, s)
	}
	return nil
}
