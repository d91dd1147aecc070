package push_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts/push"
)

// receiver is a service that takes posts and answers as told.
type receiver struct {
	*httptest.Server
	mu     sync.Mutex
	bodies []string
	heads  []http.Header
}

func newReceiver(t *testing.T, answer func(n int, w http.ResponseWriter, r *http.Request)) *receiver {
	t.Helper()
	rc := &receiver{}
	rc.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b, _ := io.ReadAll(r.Body)
		rc.mu.Lock()
		rc.bodies, rc.heads = append(rc.bodies, r.Method+" "+string(b)), append(rc.heads, r.Header.Clone())
		n := len(rc.bodies)
		rc.mu.Unlock()
		answer(n, w, r)
	}))
	t.Cleanup(rc.Close)
	return rc
}

func (rc *receiver) all() []string {
	rc.mu.Lock()
	defer rc.mu.Unlock()
	return append([]string(nil), rc.bodies...)
}

func ok(int, http.ResponseWriter, *http.Request) {}

func TestAPostCarriesTheTemplatesWordsAndTheSecret(t *testing.T) {
	t.Parallel()
	secret := filepath.Join(t.TempDir(), "token")
	if err := os.WriteFile(secret, []byte("t0ken\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	rc := newReceiver(t, ok)
	box := newOutbox()
	c := change(0)
	c.Text = `Water "D7" lightly <now>.`
	box.add(c)
	start(t, open(t, "post", fmt.Sprintf(`url = %q
template = '{"text": {{json .Text}}, "kind": {{json .Kind}}, "rank": {{json .Rank}}, "key": {{json .Key}}, "place": {{json .Place}}, "pots": {{json .Pots}}, "at": {{json .At}}}'
content-type = "application/json"
secret-file = %q
[headers]
Authorization = "Bearer {{.Secret}}"
X-Rank = "{{.Rank}}"`, rc.URL, secret), push.Env{Outbox: box}))
	eventually(t, 5*time.Second, "nothing was posted", func() bool { return box.done() == 1 })
	want := []string{`POST {"text": "Water \"D7\" lightly \u003cnow\u003e.", "kind": "water-light", "rank": "week", "key": "k00000", "place": "table", "pots": ["D7"], "at": "2027-01-26T12:00:00Z"}`}
	if d := cmp.Diff(want, rc.all()); d != "" {
		t.Error(d)
	}
	h := rc.heads[0]
	got := []string{h.Get("Authorization"), h.Get("X-Rank"), h.Get("Content-Type"), h.Get("User-Agent")}
	if d := cmp.Diff([]string{"Bearer t0ken", "week", "application/json", ""}, got); d != "" {
		t.Error(d)
	}
}

func TestARedirectIsFollowedOnlyWhereTheMessageStaysWithTheHost(t *testing.T) {
	t.Parallel()
	other := newReceiver(t, ok)
	for _, c := range []struct {
		name string
		code int
		to   string
		want []string // what reaches the host itself
		done bool
	}{
		{"to another host", http.StatusTemporaryRedirect, other.URL + "/x", []string{"POST hello"}, false},
		{"as a GET", http.StatusFound, "/x", []string{"POST hello"}, false},
		{"at the same host", http.StatusPermanentRedirect, "/x", []string{"POST hello", "POST hello"}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			rc := newReceiver(t, func(n int, w http.ResponseWriter, r *http.Request) {
				if r.URL.Path != "/x" {
					http.Redirect(w, r, c.to, c.code)
				}
			})
			r := open(t, "post", fmt.Sprintf("url = %q\ntemplate = \"hello\"", rc.URL+"/"), push.Env{})
			err := r.Test(t.Context())
			if (err == nil) != c.done {
				t.Errorf("test send: %v", err)
			}
			if d := cmp.Diff(c.want, rc.all()); d != "" {
				t.Error(d)
			}
			if len(other.all()) != 0 {
				t.Error("the message went to another host")
			}
		})
	}
}

func TestAnAddressWithATokenInItIsNotTold(t *testing.T) {
	t.Parallel()
	r := open(t, "post", fmt.Sprintf("url = \"http://127.0.0.1:%d/token-s3cret?k=s3cret\"\ntimeout = \"1 s\"", freePort(t)), push.Env{})
	err := r.Test(t.Context())
	if err == nil || strings.Contains(err.Error(), "s3cret") {
		t.Errorf("error: %v", err)
	}
}

// answers is a transport that answers each request from a list and notes when it was asked.
type answers struct {
	begin time.Time
	asked []string
	codes []int // 0: no answer before the time-out
}

func (a *answers) RoundTrip(r *http.Request) (*http.Response, error) {
	a.asked = append(a.asked, time.Since(a.begin).String())
	n := len(a.asked) - 1
	code := 200
	if n < len(a.codes) {
		code = a.codes[n]
	}
	if code == 0 {
		<-r.Context().Done()
		return nil, r.Context().Err()
	}
	resp := &http.Response{StatusCode: code, Status: http.StatusText(code), Header: http.Header{}, Body: http.NoBody}
	if code == 429 {
		resp.Header.Set("Retry-After", "600")
	}
	return resp, nil
}

func TestPostTriesAgainWithGrowingPatience(t *testing.T) {
	for _, c := range []struct {
		name  string
		codes []int
		want  []string
		done  int64
	}{
		{"server errors", []int{500, 502, 503}, []string{"0s", "5s", "15s", "35s"}, 1},
		{"no answer in time", []int{0, 0}, []string{"0s", "35s", "1m15s"}, 1},
		{"asked to wait", []int{429, 408}, []string{"0s", "10m0s", "10m10s"}, 1},
		{"refused five times, then set aside", []int{403, 403, 403, 403, 403}, []string{"0s", "5s", "15s", "35s", "1m15s"}, 1},
		{"refused until the setting was mended", []int{404, 404, 200}, []string{"0s", "5s", "15s"}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				box := newOutbox()
				box.add(change(0))
				r := open(t, "post", `url = "http://192.0.2.1/"`, push.Env{Outbox: box})
				a := &answers{begin: time.Now(), codes: c.codes}
				push.SetTransport(r, a)
				ctx, cancel := context.WithTimeout(t.Context(), 2*time.Hour)
				defer cancel()
				r.Run(ctx)
				if d := cmp.Diff(c.want, a.asked); d != "" {
					t.Error(d)
				}
				if box.done() != c.done {
					t.Errorf("%d done", box.done())
				}
			})
		})
	}
}

// TestWhateverAMessageHoldsAPostHasTheHeadersNamedAndNoOthers: line ends, control characters and quotes in a message that stands in a
// header and in the body.
func TestWhateverAMessageHoldsAPostHasTheHeadersNamedAndNoOthers(t *testing.T) {
	t.Parallel()
	texts := []string{"D7\r\nX-Evil: 1\r\n\r\nbody", "a\x00b\x1b[31m\x7f", "\"}, {\"x\": \"", "{{.Secret}}", "水\u0085\u2028 Mäusedorn", "\t"}
	rc := newReceiver(t, ok)
	box := newOutbox()
	for i, s := range texts {
		c := change(i)
		c.Text = s
		box.add(c)
	}
	start(t, open(t, "post", fmt.Sprintf("url = %q\ntemplate = '{\"text\": {{json .Text}}}'\n[headers]\nX-Title = \"{{.Text}}\"", rc.URL), push.Env{Outbox: box}))
	eventually(t, 5*time.Second, "something was not posted", func() bool { return box.done() == int64(len(texts)) })
	names := strings.Join(slices.Sorted(maps.Keys(rc.heads[0])), " ")
	for i, body := range rc.all() {
		if got := strings.Join(slices.Sorted(maps.Keys(rc.heads[i])), " "); got != names || !strings.Contains(names, "X-Title") || len(rc.heads[i]["X-Title"]) != 1 {
			t.Errorf("%q makes the headers %s, not %s", texts[i], got, names)
		}
		var m map[string]string
		if err := json.Unmarshal([]byte(strings.TrimPrefix(body, "POST ")), &m); err != nil || len(m) != 1 || m["text"] != texts[i] {
			t.Errorf("%q makes the body %q, %v", texts[i], body, err)
		}
	}
}
