package dashboards

import (
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// wire fetches an address as a browser that takes gzip and gives the bytes on the wire and the page.
func wire(t testing.TB, p http.Handler, target string) (bytes int, body string) {
	t.Helper()
	r := httptest.NewRequest("GET", "http://localhost"+target, nil)
	r.Header.Set("Accept-Encoding", "gzip, br")
	w := httptest.NewRecorder()
	p.ServeHTTP(w, r)
	if w.Code != 200 || w.Header().Get("Content-Encoding") != "gzip" {
		t.Fatalf("%s: %d, encoding %q", target, w.Code, w.Header().Get("Content-Encoding"))
	}
	n := w.Body.Len()
	z, err := gzip.NewReader(w.Body)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return n, string(data)
}

// TestPagesStayUnder60kBOnTheWire counts page, style sheet and script together.
func TestPagesStayUnder60kBOnTheWire(t *testing.T) {
	for _, g := range screenGardens() {
		p, _ := open(t, g.st(), g.change)
		shared := 0
		for _, a := range []string{"look.css", "page.js"} {
			n, _ := wire(t, p, p.assets[a].address)
			shared += n
		}
		for _, path := range g.paths {
			n, body := wire(t, p, path.at)
			if n+shared > 60_000 {
				t.Errorf("%s %s: %d bytes with its style sheet and script", g.name, path.name, n+shared)
			}
			if !strings.HasPrefix(body, "<!doctype html>") || !strings.HasSuffix(body, "</html>\n") {
				t.Errorf("%s %s is not whole", g.name, path.name)
			}
			t.Logf("%s %s: %d bytes, %d with style sheet and script", g.name, path.name, n, n+shared)
		}
	}
}

func TestStaticFilesAreKeptForEverUnderTheirDigest(t *testing.T) {
	p, _ := open(t, tansyBank(), nil)
	r := page(t, p, "/")
	css := attr(r.one("link[rel=stylesheet]"), "href")
	if got := page(t, p, css).Header.Get("Cache-Control"); got != "public, max-age=31536000, immutable" {
		t.Errorf("%s: %q", css, got)
	}
	if got := page(t, p, "/static/old/look.css").Header.Get("Cache-Control"); got != "no-cache" {
		t.Errorf("an old address: %q", got)
	}
	for _, path := range []string{"/static/", "/static/x/../../doc.go", "/static/x/nothing.css"} {
		if r := page(t, p, path); r.Code == 200 {
			t.Errorf("%s: %d", path, r.Code)
		}
	}
}

// BenchmarkPages draws Today, a winter and ten winters; Today is the peer of the run.
func BenchmarkPages(b *testing.B) {
	p, _ := open(b, tansyBank(), withPast)
	for _, c := range []struct{ name, at string }{{"today", "/"}, {"winter", "/winter?pot=B1&with=2026"}, {"ten winters", "/winter?with=all"}, {"a week of readings", "/winter?from=2027-01-10&to=2027-01-17"}} {
		b.Run(c.name, func(b *testing.B) {
			n := 0
			for b.Loop() {
				n, _ = wire(b, p, c.at)
			}
			b.ReportMetric(float64(n), "bytes/page")
		})
	}
}
