package drivers

import (
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

func init() {
	addVerb(verb{name: "garden.toml", act: func(t *testing.T, w *world, _ []string, body string) {
		w.keep["garden"] = body
		for _, p := range probesOf(t, body) {
			wish, err := ParseProbe(p)
			if err != nil {
				w.keep["refused"] = err
				return
			}
			w.wishes = append(w.wishes, wish)
		}
	}})
	addVerb(verb{name: "refused", act: func(t *testing.T, w *world, _ []string, body string) {
		w.seen.fault = true
		err, _ := w.keep["refused"].(error)
		if err == nil {
			err = w.open()
		}
		delete(w.keep, "refused")
		for _, line := range lines(body) {
			if err == nil || !strings.Contains(err.Error(), line) {
				t.Errorf("want a refusal with %q, got %v", line, err)
			}
		}
	}})
	addVerb(verb{name: "file", act: func(t *testing.T, w *world, args []string, body string) {
		w.write(t, args[0], func(p string) error { return os.WriteFile(p, []byte(body), 0o644) })
	}})
	addVerb(verb{name: "append", act: func(t *testing.T, w *world, args []string, body string) {
		f, err := os.OpenFile(w.path(args[0]), os.O_APPEND|os.O_WRONLY, 0)
		if err == nil {
			_, err = f.WriteString(body)
			err = errors.Join(err, f.Close())
		}
		if err != nil {
			t.Fatal(err)
		}
	}})
	addVerb(verb{name: "cut", act: func(t *testing.T, w *world, args []string, body string) { // drops the file's last line break
		b, err := os.ReadFile(w.path(args[0]))
		if err == nil {
			err = os.WriteFile(w.path(args[0]), []byte(strings.TrimSuffix(string(b), "\n")), 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
	}})
	addVerb(verb{name: "move", act: func(t *testing.T, w *world, args []string, body string) {
		if err := os.Rename(w.path(args[0]), w.path(strings.TrimSpace(body))); err != nil {
			t.Fatal(err)
		}
	}})
	addVerb(verb{name: "overwrite", act: func(t *testing.T, w *world, args []string, body string) { // in place: the same file
		if err := os.WriteFile(w.path(args[0]), []byte(body), 0o644); err != nil {
			t.Fatal(err)
		}
	}})
	addVerb(verb{name: "link", act: func(t *testing.T, w *world, args []string, body string) {
		target := strings.TrimSpace(body)
		w.write(t, args[0], func(p string) error { return os.Symlink(target, p) })
	}})
	addVerb(verb{name: "gone", act: func(t *testing.T, w *world, args []string, _ string) {
		if err := os.RemoveAll(w.path(args[0])); err != nil {
			t.Fatal(err)
		}
	}})
	addVerb(verb{name: "errors", act: func(t *testing.T, w *world, args []string, body string) {
		known := map[string]error{"EIO": syscall.EIO, "ETIMEDOUT": syscall.ETIMEDOUT, "EBUSY": syscall.EBUSY, "ENODATA": syscall.ENODATA}
		for _, line := range lines(body) {
			w.errs[args[0]] = append(w.errs[args[0]], known[line])
		}
	}})
	addVerb(verb{name: "message", act: func(t *testing.T, w *world, args []string, body string) {
		if len(w.sources) == 0 {
			if err := w.open(); err != nil {
				t.Fatal(err)
			}
		}
		w.topics.deliver(Arrival{Topic: args[0], Payload: []byte(strings.TrimSuffix(body, "\n")), Retained: len(args) > 1, At: time.Now()})
	}})
	addVerb(verb{name: "flood", act: func(t *testing.T, w *world, args []string, body string) { // the same message n times
		n, err := strconv.Atoi(args[1])
		if err != nil {
			t.Fatal(err)
		}
		for range n {
			verbs["message"].act(t, w, args[:1], body)
		}
	}})
	addVerb(verb{name: "clock", act: func(t *testing.T, _ *world, args []string, _ string) {
		at, err := time.Parse(time.RFC3339, args[0])
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Until(at))
	}})
	addVerb(verb{name: "wait", act: func(t *testing.T, _ *world, args []string, _ string) {
		d, err := time.ParseDuration(args[0])
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(d)
	}})
	addVerb(verb{name: "poll", act: pollOnce})
}

func (w *world) write(t *testing.T, rel string, do func(string) error) {
	p := w.path(rel)
	_ = os.Remove(p)
	if err := errors.Join(os.MkdirAll(filepath.Dir(p), 0o755), do(p)); err != nil {
		t.Fatal(err)
	}
}
