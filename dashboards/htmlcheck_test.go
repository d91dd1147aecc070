package dashboards

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// reply is a page as a browser without scripts would have it.
type reply struct {
	t      testing.TB
	Code   int
	Header http.Header
	Body   string
	root   *html.Node
}

// ask sends one request to the pages from this board.
func ask(t testing.TB, p http.Handler, method, target string, form url.Values, change func(*http.Request)) *reply {
	t.Helper()
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r := httptest.NewRequest(method, "http://localhost"+target, body)
	r.RemoteAddr = "127.0.0.1:5000"
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if change != nil {
		change(r)
	}
	w := httptest.NewRecorder()
	p.ServeHTTP(w, r)
	rep := &reply{t: t, Code: w.Code, Header: w.Header(), Body: w.Body.String()}
	if strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") && w.Header().Get("Content-Encoding") == "" {
		var err error
		if rep.root, err = html.Parse(strings.NewReader(rep.Body)); err != nil {
			t.Fatal(err)
		}
	}
	return rep
}

func page(t testing.TB, p http.Handler, target string) *reply {
	t.Helper()
	return ask(t, p, "GET", target, nil, nil)
}

// all finds elements by a chain of simple selectors, each "tag", ".class", "#id", "[attr]", "[attr=value]" or several of them
// joined: "form#benches li.pot.frozen input[name=pot]".
func (r *reply) all(selector string) []*html.Node {
	r.t.Helper()
	if r.root == nil {
		r.t.Fatalf("no page to look in (%d): %.200s", r.Code, r.Body)
	}
	found := []*html.Node{r.root}
	for _, simple := range strings.Fields(selector) {
		var next []*html.Node
		seen := map[*html.Node]bool{}
		for _, n := range found {
			for d := range n.Descendants() {
				if !seen[d] && matches(d, simple) {
					seen[d] = true
					next = append(next, d)
				}
			}
		}
		found = next
	}
	return found
}

func (r *reply) one(selector string) *html.Node {
	r.t.Helper()
	ns := r.all(selector)
	if len(ns) != 1 {
		r.t.Fatalf("%d elements match %q, want 1", len(ns), selector)
	}
	return ns[0]
}

// says fails unless the only element of the selector holds the text.
func (r *reply) says(selector, text string) {
	r.t.Helper()
	if got := textOf(r.one(selector)); !strings.Contains(got, text) {
		r.t.Errorf("%s says %q, want %q in it", selector, got, text)
	}
}

// texts gives the text of every element of the selector.
func (r *reply) texts(selector string) []string {
	var ts []string
	for _, n := range r.all(selector) {
		ts = append(ts, textOf(n))
	}
	return ts
}

func matches(n *html.Node, simple string) bool {
	if n.Type != html.ElementNode {
		return false
	}
	tag := simple
	if i := strings.IndexAny(simple, ".#["); i >= 0 {
		tag = simple[:i]
	}
	if tag != "" && n.Data != tag {
		return false
	}
	for rest := simple[len(tag):]; rest != ""; {
		end := strings.IndexAny(rest[1:], ".#[")
		if end < 0 {
			end = len(rest) - 1
		}
		part := rest[:end+1]
		rest = rest[end+1:]
		switch part[0] {
		case '.':
			if !oneOf(part[1:], strings.Fields(attr(n, "class"))) {
				return false
			}
		case '#':
			if attr(n, "id") != part[1:] {
				return false
			}
		case '[':
			key, value, has := strings.Cut(strings.TrimSuffix(part[1:], "]"), "=")
			if !hasAttr(n, key) || has && attr(n, key) != value {
				return false
			}
		}
	}
	return true
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func hasAttr(n *html.Node, key string) bool {
	for _, a := range n.Attr {
		if a.Key == key {
			return true
		}
	}
	return false
}

// textOf is an element's text with plain single spaces.
func textOf(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data)
			b.WriteByte(' ')
		}
	}
	return strings.Join(strings.Fields(strings.ReplaceAll(b.String(), nbsp, " ")), " ")
}
