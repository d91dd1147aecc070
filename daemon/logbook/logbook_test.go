package logbook

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
)

// A bus that fails in every round says so a few times, and then how often it would have said it.
func TestTheSameWordsFromTheSameSourceAreHeldBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		log := New(&out, Options{Most: 3, Journal: true}).Logger()
		for range 20 {
			log.Warn("no answer", "bus", "w1")
			time.Sleep(time.Second)
		}
		log.Warn("no answer", "bus", "i2c-1") // another source
		log.Warn("answers again", "bus", "w1")
		log.Error("no answer", "bus", "w1") // another level
		time.Sleep(time.Minute)
		log.Warn("no answer", "bus", "w1") // another minute
		want := []string{`<4>msg="no answer" bus=w1`, `<4>msg="no answer" bus=w1`, `<4>msg="no answer" bus=w1`, `<4>msg="no answer" bus=i2c-1`,
			`<4>msg="answers again" bus=w1`, `<3>msg="no answer" bus=w1`, `<4>msg="no answer" held_back=17 bus=w1`, `<4>msg="no answer" bus=w1`, ""}
		if diff := cmp.Diff(want, strings.Split(out.String(), "\n")); diff != "" {
			t.Error(diff)
		}
		time.Sleep(time.Minute) // the last window ends with the bubble
	})
}

func TestALoggerWithItsOwnWordsIsASourceOfItsOwn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		log := New(&out, Options{Most: 1, Journal: true}).Logger()
		mail, post := log.With("by", "mail"), log.With("by", "post")
		for range 3 {
			mail.Warn("not taken", "key", "a")
			post.Warn("not taken", "key", "b") // a key is none: each message has its own
		}
		time.Sleep(2 * time.Minute)
		want := "<4>msg=\"not taken\" by=mail key=a\n<4>msg=\"not taken\" by=post key=b\n"
		if !strings.HasPrefix(out.String(), want) || strings.Count(out.String(), "held_back=2") != 2 {
			t.Errorf("%s", out.String())
		}
	})
}

// A stranger who makes up ever new sources cannot make the count grow without bound, nor fill the log.
func TestEverNewSourcesShareACount(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		b := New(&out, Options{Most: 2, Journal: true})
		log := b.Logger()
		for i := range 3 * keysMost {
			log.Warn("who is this", "kind", fmt.Sprint(i))
		}
		if n := strings.Count(out.String(), "\n"); n != keysMost+2 {
			t.Errorf("%d lines passed, want %d", n, keysMost+2)
		}
		if n := len(b.flow.runs); n > keysMost+1 {
			t.Errorf("%d counts are kept", n)
		}
		time.Sleep(2 * time.Minute)
		if n := len(b.flow.runs); n != 0 {
			t.Errorf("%d counts are left after their minute", n)
		}
	})
}

func TestLinesForAServiceJournal(t *testing.T) {
	for _, tt := range []struct {
		o    Options
		want string
	}{
		{Options{Journal: true, Level: slog.LevelDebug}, "<7>msg=d\n<6>msg=i n=1\n<4>msg=w g.time=5\n<3>msg=e\n"},
		{Options{Journal: true, JSON: true}, "<6>{\"msg\":\"i\",\"n\":1}\n<4>{\"msg\":\"w\",\"g\":{\"time\":5}}\n<3>{\"msg\":\"e\"}\n"},
	} {
		var out bytes.Buffer
		log := New(&out, tt.o).Logger()
		log.Debug("d")
		log.Info("i", "n", 1)
		log.WithGroup("g").Warn("w", "time", 5)
		log.Error("e")
		if diff := cmp.Diff(tt.want, out.String()); diff != "" {
			t.Error(diff)
		}
	}
}

func TestElsewhereALineHasItsTimeAndLevel(t *testing.T) {
	var text, obj bytes.Buffer
	New(&text, Options{}).Logger().Info("started", "version", "7")
	if !strings.HasPrefix(text.String(), "time=") || !strings.Contains(text.String(), " level=INFO msg=started version=7\n") {
		t.Error(text.String())
	}
	New(&obj, Options{JSON: true}).Logger().Info("started")
	var line struct{ Time, Level, Msg string }
	if err := json.Unmarshal(obj.Bytes(), &line); err != nil || line.Level != "INFO" || line.Msg != "started" || line.Time == "" {
		t.Error(obj.String(), err)
	}
}

func TestAMessageOfManyLinesIsOneLine(t *testing.T) {
	var out bytes.Buffer
	New(&out, Options{Journal: true}).Logger().Info("a\n<0>b", "why", "c\nd")
	if n := strings.Count(out.String(), "\n"); n != 1 {
		t.Errorf("%d lines: %q", n, out.String())
	}
}

// JOURNAL_STREAM alone does not say that this stream goes there.
func TestOnlyTheNamedStreamIsAServiceJournal(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	fi, err := w.Stat()
	if err != nil {
		t.Fatal(err)
	}
	s := fi.Sys().(*syscall.Stat_t)
	for value, want := range map[string]bool{"": false, "nonsense": false, "1:2": false, fmt.Sprintf("%d:%d", s.Dev, s.Ino): true} {
		t.Setenv("JOURNAL_STREAM", value)
		if IntoJournal(w) != want {
			t.Errorf("%q: %v", value, !want)
		}
	}
}

// As a service manager does it: the program's output is a Unix stream socket, and JOURNAL_STREAM names its device and inode as
// fstat(2) has them in both processes (systemd.exec(5)). A second program that inherits the variable but writes elsewhere is not
// taken in.
func TestAUnixStreamIsAServiceJournal(t *testing.T) {
	ends, err := syscall.Socketpair(syscall.AF_UNIX, syscall.SOCK_STREAM|syscall.SOCK_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	listens, given := os.NewFile(uintptr(ends[0]), "listens"), os.NewFile(uintptr(ends[1]), "given")
	defer listens.Close()
	fi, err := given.Stat()
	if err != nil {
		t.Fatal(err)
	}
	s := fi.Sys().(*syscall.Stat_t)
	cmd := exec.Command(os.Args[0], "-test.run=^TestActAsService$")
	cmd.Env = append(os.Environ(), "LATHWATCH_ACT=1", fmt.Sprintf("JOURNAL_STREAM=%d:%d", s.Dev, s.Ino))
	cmd.Stderr = given
	var elsewhere bytes.Buffer
	cmd.Stdout = &elsewhere // a pipe: not the stream that was named
	if err := cmd.Run(); err != nil {
		t.Fatal(err)
	}
	given.Close()
	got, err := io.ReadAll(listens)
	if err != nil {
		t.Fatal(err)
	}
	if want := "<6>msg=started version=7\n<4>{\"msg\":\"late\"}\n"; string(got) != want {
		t.Errorf("the journal got %q, want %q", got, want)
	}
	if !strings.HasPrefix(elsewhere.String(), "time=") || !strings.Contains(elsewhere.String(), " level=INFO msg=started") {
		t.Errorf("elsewhere: %q", elsewhere.String())
	}
}

// TestActAsService is the program of the test above.
func TestActAsService(t *testing.T) {
	if os.Getenv("LATHWATCH_ACT") == "" {
		t.Skip("only a helper of another test")
	}
	New(os.Stderr, Options{Journal: IntoJournal(os.Stderr)}).Logger().Info("started", "version", "7")
	New(os.Stderr, Options{Journal: IntoJournal(os.Stderr), JSON: true}).Logger().Warn("late")
	New(os.Stdout, Options{Journal: IntoJournal(os.Stdout)}).Logger().Info("started")
}

func TestTheNewestLinesAreKept(t *testing.T) {
	var out bytes.Buffer
	b := New(&out, Options{Keep: 3, Most: -1, Journal: true})
	for i := range 5 {
		b.Logger().Info("line", "n", i)
		if i == 1 {
			if diff := cmp.Diff([]string{"msg=line n=0", "msg=line n=1"}, b.Lines()); diff != "" {
				t.Error(diff)
			}
		}
	}
	if diff := cmp.Diff([]string{"msg=line n=2", "msg=line n=3", "msg=line n=4"}, b.Lines()); diff != "" {
		t.Error(diff)
	}
}

func TestKnownSecretsAreBlankedInWhateverForm(t *testing.T) {
	const secret = `pa"ss wörd/+&x`
	var out bytes.Buffer
	b := New(&out, Options{Journal: true})
	b.Hide(NewVeil([]string{secret, "abc", "  longer-secret\n"}))
	log := b.Logger()
	log.Info(secret, "as", secret)
	log.Info("query", "url", "http://x.example/?q=pa%22ss+w%C3%B6rd%2F%2B%26x")
	log.Info("path", "url", "http://x.example/pa%22ss%20w%C3%B6rd%2F+&x")
	log.Info("base64", "authorization", "cGEic3Mgd8O2cmQvKyZ4")
	log.With("k", "longer-secret").Info("abc is too short to be found by its look")
	for l := range strings.Lines(out.String()) {
		if !strings.Contains(l, Blank) {
			t.Errorf("nothing is blanked in %q", l)
		}
	}
	for _, bad := range []string{"rd/+&x", "longer", "cGEi", "%C3%B6"} {
		if strings.Contains(out.String(), bad) || strings.Contains(strings.Join(b.Lines(), ""), bad) {
			t.Errorf("%q is in the log:\n%s", bad, out.String())
		}
	}
	if !strings.Contains(out.String(), "abc is too short") {
		t.Error("a short word was blanked")
	}
}
