package dashboards

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

func TestForeignNamesAndForeignSitesAreRefused(t *testing.T) {
	p, h := open(t, tansyBank(), func(c *Config) { c.Page.Hosts = []string{"tansy.lan"} })
	for host, want := range map[string]int{"localhost": 200, "localhost:8642": 200, "127.0.0.1:8642": 200, "[::1]:8642": 200, "192.168.1.20": 200, "tansy.lan:8642": 200, "Tansy.Lan.": 200,
		"evil.example": 421, "tansy.lan.evil.example": 421, "": 421} {
		if r := ask(t, p, "GET", "/", nil, func(r *http.Request) { r.Host = host }); r.Code != want {
			t.Errorf("%q: %d, want %d", host, r.Code, want)
		}
	}
	note := url.Values{"what": {"fed"}, "pot": {"B1"}}
	for name, c := range map[string]struct {
		head map[string]string
		ok   bool
	}{
		"own page":                       {map[string]string{"Sec-Fetch-Site": "same-origin"}, true},
		"own page, old or plain browser": {map[string]string{"Origin": "http://localhost"}, true},
		"another site":                   {map[string]string{"Sec-Fetch-Site": "cross-site", "Origin": "http://evil.example"}, false},
		"another port of this host":      {map[string]string{"Origin": "http://localhost:9999"}, false},
	} {
		before := len(h.taken())
		r := ask(t, p, "POST", "/note", note, func(r *http.Request) {
			for k, v := range c.head {
				r.Header.Set(k, v)
			}
		})
		if took := len(h.taken()) > before; took != c.ok || !c.ok && r.Code != http.StatusForbidden {
			t.Errorf("%s: %d, taken %v", name, r.Code, took)
		}
	}
}

// TestBehindAnotherServer: passing the name on is enough for forms; without a passphrase nothing is served to the outside.
func TestBehindAnotherServer(t *testing.T) {
	front := func(r *http.Request) {
		r.Host = "garden.example"
		r.Header.Set("X-Forwarded-For", "203.0.113.9")
		r.Header.Set("Origin", "https://garden.example")
	}
	p, _ := open(t, tansyBank(), func(c *Config) { c.Page.Hosts = []string{"garden.example"} })
	if r := ask(t, p, "GET", "/", nil, front); r.Code != http.StatusForbidden {
		t.Errorf("without a passphrase, through another server: %d", r.Code)
	}
	p, h := open(t, tansyBank(), func(c *Config) { withPhrase(c); c.Page.Hosts = []string{"garden.example"}; c.TLS = true })
	who := signedIn(t, p)
	r := ask(t, p, "POST", "/note", url.Values{"what": {"fed"}, "pot": {"B1"}}, func(r *http.Request) { front(r); who(r) })
	if r.Code != http.StatusSeeOther || len(h.taken()) != 1 {
		t.Errorf("a form through another server that passes the name on: %d, %d notes", r.Code, len(h.taken()))
	}
	r = ask(t, p, "POST", "/note", url.Values{"what": {"fed"}, "pot": {"B1"}}, func(r *http.Request) { front(r); who(r); r.Host = "127.0.0.1:8642" })
	if r.Code != http.StatusForbidden {
		t.Errorf("a server in front that rewrites the name: %d, its forms should be refused", r.Code)
	}
}

func TestTheWayBackStaysOnThisSite(t *testing.T) {
	for to, want := range map[string]string{"/winter?with=2026": "/winter?with=2026", "": "/", "//evil.example": "/", "https://evil.example": "/", "/\\evil.example": "/", "/a\r\nb": "/", "/\t/evil.example": "/", "/\x00x": "/", "/\u0085": "/", "/sign-out": "/"} {
		if got := back(to); got != want {
			t.Errorf("%q leads to %q", to, got)
		}
	}
}

func TestEveryAnswerCarriesAStrictPolicy(t *testing.T) {
	p, _ := open(t, tansyBank(), withPast)
	for _, path := range []string{"/", "/winter", "/nowhere", "/sign-in", "/pot/B1"} {
		r := page(t, p, path)
		if csp := r.Header.Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") {
			t.Errorf("%s: policy %q", path, csp)
		}
		if strings.Contains(r.Body, " style=") || strings.Contains(r.Body, " onclick=") || strings.Contains(r.Body, "<style") {
			t.Errorf("%s holds what its policy forbids", path)
		}
	}
}
