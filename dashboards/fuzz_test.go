package dashboards

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/net/html"

	"lathwatch/sensors"
	"lathwatch/sensors/tape"
)

// FuzzRequest: whatever is asked or posted by whoever may write, the answer is a page, a redirect on this site or a refusal in words;
// each note that is taken is one the journal takes, of a pot the garden has, and never more notes than pots.
func FuzzRequest(f *testing.F) {
	for _, c := range [][2]string{{"/note", "what=watered&pot=B1&amount=150"}, {"/note", "what=remark&pot=B1&pot=B1&text=a%00%0Ab%1b[31m"}, {"/note", "what=nose+above%0Agrit&pot=B1"}, {"/note", "what=moved&pot=B1&place=wall&when=on&day=2027-01-20"},
		{"/note", "what=feel+light&pot=W9&when=week"}, {"/note", "what=watered&pot=B1&amount=1e5"}, {"/note", "what=fed&pot=B1&amount=NaN"}, {"/alert", "press=seen&kind=frost-tonight&subject=wall"}, {"/undo", "id=n1&subject=B1"}, {"/undo", "id=%0a&subject=../.."},
		{"/sign-in", "passphrase=x&back=//evil.example"}, {"/sign-in", "back=/%09/evil.example"}, {"/sign-in", "back=/%5Cevil.example"}, {"/winter?from=2027-01-01&to=2027-02-01&pot=B1", ""}, {"/winter.csv?place=wall", ""},
		{"/pot/..%2f..%2fetc", ""}, {"/probe/B1-m", ""}, {"/winter/sheet?cols=99999999", ""}, {"/said?before=x", ""}, {"/sign-in?back=/%22%3E%3Cscript%3E", ""}, {"/static/..%2froutes.go", ""}} {
		f.Add(c[0], c[1])
	}
	f.Add("/note", "what=fed"+strings.Repeat("&pot=B1", 40))
	p, h := open(f, tansyBank(), withPast)
	st, before := h.Standing(), len(h.taken())
	f.Fuzz(func(t *testing.T, target, body string) {
		u, err := url.ParseRequestURI(target)
		if err != nil || !strings.HasPrefix(target, "/") || strings.HasPrefix(u.Path, "/live") || u.Host != "" {
			return
		}
		method := http.MethodGet
		if body != "" {
			method = http.MethodPost
		}
		r := &http.Request{Method: method, URL: u, Host: "localhost", RemoteAddr: "127.0.0.1:5000", RequestURI: target, Header: http.Header{"Content-Type": {"application/x-www-form-urlencoded"}}}
		r.Body = http.NoBody
		if body != "" {
			r = httptest.NewRequest(method, "http://localhost/", strings.NewReader(body)).WithContext(t.Context())
			r.URL, r.Host, r.RequestURI = u, "localhost", target
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		}
		w := httptest.NewRecorder()
		p.ServeHTTP(w, r)
		if w.Code >= 500 || w.Code < 200 || w.Code >= 300 && w.Code < 400 && w.Code != 303 && w.Code != 301 && w.Code != 307 && w.Code != 304 {
			t.Errorf("%s %q with %q gives %d", method, target, body, w.Code)
		}
		staysHere(t, target, w.Header())
		notes := h.taken()[before:]
		h.notes = h.notes[:before]
		h.set(st)
		if len(notes) > max(len(st.Garden.Pots), len(st.Alerts)) {
			t.Errorf("%q makes %d notes", body, len(notes))
		}
		for _, n := range notes {
			n.ID = ""
			if _, err := tape.Checked(n); err != nil {
				t.Errorf("%q is taken as %+v, which no journal takes: %v", body, n, err)
			}
			if n.What != sensors.Undo && potOf(st, n.Subject) == nil && st.Garden.Place(n.Subject) == nil {
				t.Errorf("%q notes something about %q", body, n.Subject)
			}
		}
	})
}

// staysHere: a redirect leads to a path of this site, as a browser reads it (white space and controls dropped, a backslash is a slash).
func staysHere(t *testing.T, target string, h http.Header) {
	for name, values := range h {
		for _, v := range values {
			if strings.ContainsAny(v, "\r\n\x00") {
				t.Errorf("%q puts %q into the header %s", target, v, name)
			}
		}
	}
	to := h.Get("Location")
	if to == "" {
		return
	}
	browser := strings.Map(func(r rune) rune {
		if r == '\\' {
			return '/'
		}
		if unicode.IsControl(r) {
			return -1
		}
		return r
	}, to)
	if !strings.HasPrefix(browser, "/") || strings.HasPrefix(browser, "//") {
		t.Errorf("%q leads to %q", target, to)
	}
}

// FuzzNames: with a hostile text in every place where a person or a file may write, each page has the very elements and attributes it has
// with a plain word there.
func FuzzNames(f *testing.F) {
	for _, s := range []string{`"><script>alert(1)</script><b x='`, "</style><p>", "javascript:alert(1)", "{{.Title}}", "<!--", "]]>", "\x00\x01\ufffe", "' onclick='x", "&lt;img src=x&gt;", "--><svg onload=1>", "a\nb", "%3Cscript%3E", strings.Repeat("<", 300)} {
		f.Add(s)
	}
	// The sheets take half a second each under this: TestNoTextBecomesMarkup looks at them.
	paths := []string{"/", "/pot/B1", "/plant/P1", "/probe/B1-m", "/said", "/garden"}
	p, h := open(f, tansyBank(), nil)
	skeletons := func(t *testing.T, word string) map[string]string {
		h.set(namedBank(word))
		out := map[string]string{}
		for _, path := range paths {
			out[path] = skeleton(ask(t, p, "GET", path, nil, nil).Body)
		}
		return out
	}
	f.Fuzz(func(t *testing.T, s string) {
		if len(s) > 400 || strings.TrimSpace(s) == "" {
			return
		}
		plain := skeletons(t, strings.Map(func(r rune) rune {
			if unicode.IsSpace(r) {
				return r
			}
			return 'x'
		}, s))
		for path, got := range skeletons(t, s) {
			if got != plain[path] {
				t.Errorf("%q changes %s: %s", s, path, apart(got, plain[path]))
			}
		}
	})
}

// skeleton is every tag with its attributes' names, and the values of those that name code or an address of another site.
func skeleton(body string) string {
	var b strings.Builder
	z := html.NewTokenizer(strings.NewReader(body))
	for {
		switch z.Next() {
		case html.ErrorToken:
			return b.String()
		case html.StartTagToken, html.EndTagToken, html.SelfClosingTagToken:
			tok := z.Token()
			b.WriteString(tok.Type.String() + " " + tok.Data)
			for _, a := range tok.Attr {
				b.WriteString(" " + a.Key)
				if (a.Key == "href" || a.Key == "src" || a.Key == "action") && !strings.HasPrefix(a.Val, "/") && !strings.HasPrefix(a.Val, "#") && !strings.HasPrefix(a.Val, "?") {
					b.WriteString("=" + a.Val)
				}
			}
			b.WriteByte('\n')
		case html.CommentToken:
			b.WriteString("comment\n")
		}
	}
}

func apart(a, b string) string {
	as, bs := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range as {
		if i >= len(bs) || as[i] != bs[i] {
			return as[i]
		}
	}
	return "it ends early"
}
