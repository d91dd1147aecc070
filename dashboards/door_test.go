package dashboards

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"lathwatch/sensors/garden"
)

// withPhrase gives the pages a passphrase whose guesses cost little, so that tests may miss often.
func withPhrase(c *Config) {
	cheap := &phrase{memory: 64, passes: 1, lanes: 1, salt: []byte("saltsaltsaltsalt")}
	cheap.hash = cheap.of(phrase0)
	c.Passphrase = cheap.line()
}

// signedIn gives a change that carries the cookie of a fresh session.
func signedIn(t *testing.T, p *Pages) func(*http.Request) {
	t.Helper()
	r := ask(t, p, "POST", "/sign-in", url.Values{"passphrase": {phrase0}}, nil)
	if r.Code != http.StatusSeeOther {
		t.Fatalf("signing in: %d", r.Code)
	}
	c, err := http.ParseSetCookie(r.Header.Get("Set-Cookie"))
	if err != nil {
		t.Fatal(err)
	}
	return func(r *http.Request) { r.AddCookie(c) }
}

func TestAnAddressOthersCanReachNeedsAPassphrase(t *testing.T) {
	for listen, ok := range map[string]bool{"": true, "127.0.0.1:8642": true, "[::1]:8642": true, "localhost:8642": true, "0.0.0.0:8642": false, ":8642": false,
		"192.168.1.20:8642": false, "[::]:8642": false, "tansy.lan:8642": false} {
		_, err := New(Config{Standings: &house{}, Page: garden.Page{Listen: listen}})
		if (err == nil) != ok {
			t.Errorf("%q without a passphrase: %v", listen, err)
		}
		if _, err := New(Config{Standings: &house{}, Page: garden.Page{Listen: listen}, Passphrase: phrase0}); err != nil {
			t.Errorf("%q with a passphrase: %v", listen, err)
		}
	}
	if _, err := New(Config{Standings: &house{}, Passphrase: "short"}); err == nil || strings.Contains(err.Error(), "short\"") {
		t.Errorf("a short passphrase: %v", err)
	}
}

func TestReadingAndWritingPassDifferentDoors(t *testing.T) {
	note := url.Values{"what": {"watered"}, "pot": {"B1"}}
	for _, c := range []struct {
		name             string
		change           func(*Config)
		signed           bool
		read, write      int
		written, buttons bool
	}{
		{"loopback", nil, false, 200, 303, true, true},
		{"passphrase, stranger", withPhrase, false, 303, 303, false, false},
		{"passphrase, signed in", withPhrase, true, 200, 303, true, true},
		{"open reading, stranger", func(c *Config) { withPhrase(c); c.Page.OpenReading = true }, false, 200, 303, false, false},
		{"open reading, signed in", func(c *Config) { withPhrase(c); c.Page.OpenReading = true }, true, 200, 303, true, true},
		{"nothing can be noted", func(c *Config) { c.Notes = nil }, false, 200, 403, false, false},
	} {
		p, h := open(t, tansyBank(), c.change)
		who := func(*http.Request) {}
		if c.signed {
			who = signedIn(t, p)
		}
		r := ask(t, p, "GET", "/", nil, who)
		if r.Code != c.read {
			t.Errorf("%s: reading gives %d", c.name, r.Code)
		}
		if r.Code == 200 && (len(r.all("fieldset.verbs")) == 1) != c.buttons {
			t.Errorf("%s: buttons are wrong", c.name)
		}
		if r := ask(t, p, "POST", "/note", note, who); r.Code != c.write || (len(h.taken()) == 1) != c.written {
			t.Errorf("%s: writing gives %d, %d notes", c.name, r.Code, len(h.taken()))
		}
		if !c.written && c.write == 303 && ask(t, p, "POST", "/note", note, who).Header.Get("Location") != "/sign-in" {
			t.Errorf("%s: a stranger who writes is not asked to sign in", c.name)
		}
	}
}

func TestEveryPageIsClosedToStrangers(t *testing.T) {
	p, _ := open(t, tansyBank(), func(c *Config) { withPast(c); withPhrase(c) })
	for _, path := range []string{"/", "/winter", "/winter/sheet", "/winter.csv", "/winter.svg", "/pot/B1", "/plant/P1", "/probe/B1-m", "/said", "/garden"} {
		if r := page(t, p, path); r.Code != http.StatusSeeOther || !strings.HasPrefix(r.Header.Get("Location"), "/sign-in?back=") || strings.Contains(r.Body, "segawai") {
			t.Errorf("%s: %d", path, r.Code)
		}
	}
	if r := page(t, p, "/live"); r.Code != http.StatusUnauthorized {
		t.Errorf("/live: %d", r.Code)
	}
	if r := page(t, p, "/sign-in"); r.Code != 200 || strings.Contains(r.Body, "Tansy") {
		t.Errorf("the sign-in page gives the garden's name away (%d)", r.Code)
	}
}

func TestMountedPagesStandBehindTheSameDoors(t *testing.T) {
	says := func(text string) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { w.Write([]byte(text)) })
	}
	p, _ := open(t, tansyBank(), func(c *Config) {
		withPhrase(c)
		c.Mounts = []Mount{{Pattern: "GET /review", Menu: "Review", Handler: says("a winter")}, {Pattern: "POST /review", Handler: says("written")}, {Pattern: "GET /days/{secret}", Open: true, Handler: says("a feed")}}
	})
	for _, c := range []struct {
		method, path string
		code         int
	}{{"GET", "/review", 303}, {"POST", "/review", 303}, {"GET", "/days/x", 200}} {
		if r := ask(t, p, c.method, c.path, nil, nil); r.Code != c.code {
			t.Errorf("a stranger: %s %s gives %d", c.method, c.path, r.Code)
		}
	}
	who := signedIn(t, p)
	for _, m := range []string{"GET", "POST"} {
		if r := ask(t, p, m, "/review", nil, who); r.Code != 200 {
			t.Errorf("signed in: %s gives %d", m, r.Code)
		}
	}
	ask(t, p, "GET", "/", nil, who).says("nav", "Review")
}

func TestASessionIsKeptAsADigestAndEnds(t *testing.T) {
	now := tansyNow
	kept := newShortMemory()
	change := func(c *Config) { withPhrase(c); c.Sessions = kept; c.Now = func() time.Time { return now } }
	p, _ := open(t, tansyBank(), change)
	who := signedIn(t, p)
	req, _ := http.NewRequest("GET", "http://localhost/", nil)
	who(req)
	c := req.Cookies()[0]
	secret, err := base64.RawURLEncoding.DecodeString(c.Value)
	if err != nil || len(secret) != 32 {
		t.Fatalf("cookie %q", c.Value)
	}
	if until, _ := kept.Session(context.Background(), sha256.Sum256(secret)); !until.Equal(now.Add(180 * 24 * time.Hour)) {
		t.Errorf("kept until %v", until)
	}
	again, _ := open(t, tansyBank(), change) // a restart: another process with the same store
	if r := ask(t, again, "GET", "/", nil, who); r.Code != 200 {
		t.Errorf("after a restart: %d", r.Code)
	}
	now = now.Add(181 * 24 * time.Hour)
	if r := ask(t, again, "GET", "/", nil, who); r.Code != http.StatusSeeOther {
		t.Errorf("after 181 days: %d", r.Code)
	}
	now = tansyNow
	if r := ask(t, p, "POST", "/sign-out", url.Values{}, who); r.Code != http.StatusSeeOther {
		t.Errorf("signing out: %d", r.Code)
	}
	if r := ask(t, p, "GET", "/", nil, who); r.Code != http.StatusSeeOther {
		t.Errorf("after signing out: %d", r.Code)
	}
}

func TestTheCookieIsOurOwnAndShut(t *testing.T) {
	for _, tls := range []bool{false, true} {
		p, _ := open(t, tansyBank(), func(c *Config) { withPhrase(c); c.TLS = tls })
		r := ask(t, p, "POST", "/sign-in", url.Values{"passphrase": {phrase0}}, nil)
		c, err := http.ParseSetCookie(r.Header.Get("Set-Cookie"))
		if err != nil || c.Name != "lathwatch_gate" || !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Secure != tls || c.Path != "/" {
			t.Errorf("tls %v: %v, %v", tls, c, err)
		}
	}
}

func TestGuessingIsSlowedDown(t *testing.T) {
	now := tansyNow
	p, _ := open(t, tansyBank(), func(c *Config) { withPhrase(c); c.Now = func() time.Time { return now } })
	guess := func(words, from string) int {
		return ask(t, p, "POST", "/sign-in", url.Values{"passphrase": {words}}, func(r *http.Request) { r.RemoteAddr = from }).Code
	}
	for i, want := range []int{403, 403, 403, 429} {
		if got := guess("wrong words", "192.0.2.7:1000"); got != want {
			t.Errorf("guess %d: %d, want %d", i+1, got, want)
		}
	}
	if got := guess(phrase0, "192.0.2.7:1001"); got != 429 {
		t.Errorf("the right words while waiting: %d: waiting must hold for them too", got)
	}
	if got := guess(phrase0, "192.0.2.8:1000"); got != 303 {
		t.Errorf("from elsewhere: %d", got)
	}
	now = now.Add(2 * time.Second)
	if got := guess(phrase0, "192.0.2.7:1000"); got != 303 {
		t.Errorf("after the wait: %d", got)
	}
	for i := range 40 { // many addresses together
		guess("wrong words", "[2001:db8:0:"+string(rune('a'+i%6))+string(rune('0'+i/6))+"::1]:9")
	}
	if got := guess(phrase0, "198.51.100.1:1"); got != 429 {
		t.Errorf("after forty misses of everybody: %d", got)
	}
}

func TestAHashedPassphraseOpensAndNoSecretIsLogged(t *testing.T) {
	line, err := HashPassphrase(phrase0)
	if err != nil || strings.Contains(line, "moss") || !strings.HasPrefix(line, "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Fatalf("%q, %v", line, err)
	}
	var log bytes.Buffer
	p, _ := open(t, tansyBank(), func(c *Config) {
		c.Passphrase = line + "\n"
		c.Log = slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	})
	who := signedIn(t, p)
	ask(t, p, "POST", "/sign-in", url.Values{"passphrase": {"an almost right one"}}, nil)
	req, _ := http.NewRequest("GET", "http://localhost/", nil)
	who(req)
	for _, secret := range []string{phrase0, "an almost right one", req.Cookies()[0].Value, line} {
		if strings.Contains(log.String(), secret) {
			t.Errorf("the log holds a secret: %s", log.String())
		}
	}
	if !strings.Contains(log.String(), "a wrong passphrase was given") {
		t.Error("a wrong passphrase leaves no line in the log")
	}
	for _, bad := range []string{"$argon2id$v=19$m=19456,t=2,p=1$$", "$argon2id$v=16$m=1,t=1,p=1$AAAA$AAAA", strings.Replace(line, "m=19456", "m=99999999", 1)} {
		if _, err := readPhrase(bad); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
}

// TestTheHashIsArgon2id compares with a line of the reference implementation's test table (Biryukov, Dinu and Khovratovich, the C code
// that accompanies RFC 9106; value from memory): 2 passes, 64 MiB, 1 lane, "password", "somesalt".
func TestTheHashIsArgon2id(t *testing.T) {
	ph := &phrase{memory: 1 << 16, passes: 2, lanes: 1, salt: []byte("somesalt")}
	if got := hex.EncodeToString(ph.of("password")); got != "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7" {
		t.Error(got)
	}
}

func TestOneHashedLineHoldsItsOwnCost(t *testing.T) {
	cheap := &phrase{memory: 64, passes: 1, lanes: 1, salt: []byte("saltsaltsaltsalt")}
	cheap.hash = cheap.of("whatever it is")
	if !cheap.matches("whatever it is") || cheap.matches("whatever it was") {
		t.Error("matching is wrong")
	}
}
