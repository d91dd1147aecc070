package ical_test

import (
	"bytes"
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"lathwatch/dashboards/ical"
	"lathwatch/dashboards/ical/icalread"
)

// cleaned is what may stand in a TEXT value (RFC 5545 section 3.1 and 3.3.11): UTF-8 without control characters other than the tab, with
// one kind of line end; what only a left-out character parted is one line end.
func cleaned(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0x7f {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
	return strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(s)
}

// FuzzCalendar: whatever the garden's names hold, the feed has the same properties in the same order as with a plain name, and the name
// is read back whole; whatever is asked for, only the secret address is answered with it.
func FuzzCalendar(f *testing.F) {
	for _, s := range []string{"Lower Tansy Bank", "a\r\nBEGIN:VALARM\r\n", "a;b,c\\n:\"", "\x00\x07\u2028", strings.Repeat("水", 80), "\xff", "\r", "a\rb\n\r\n"} {
		f.Add(s, "/calendar/"+s+".ics")
	}
	f.Add("a", "/calendar/../calendar/x.ics")
	const secret = "moss-and-leaf-mould-0123456789abcdef"
	plain := standing()
	h := ical.Handler(oneSecret(secret), func(ctx context.Context) (ical.Feed, error) { return ical.Of(ctx, plain, memory{}) })
	f.Fuzz(func(t *testing.T, name, path string) {
		if len(name) > 400 {
			return
		}
		st := standing()
		st.Garden.Site.Name, st.Garden.Plants[0].Name = name, name
		fd, err := ical.Of(t.Context(), st, memory{})
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := fd.Write(&b); err != nil {
			t.Fatal(err)
		}
		_, want := feed(t, standing(), memory{})
		got := parse(t, b.String())
		if len(got) != len(want) {
			t.Fatalf("%q makes %d properties, a plain name %d", name, len(got), len(want))
		}
		for i, p := range got {
			if p.Name != want[i].Name || p.Params != want[i].Params {
				t.Errorf("%q: property %d is %s;%s, not %s;%s", name, i, p.Name, p.Params, want[i].Name, want[i].Params)
			}
			if p.Name == "NAME" && name != "" && icalread.Unescape(p.Value) != cleaned(name) {
				t.Errorf("%q is read back as %q", name, icalread.Unescape(p.Value))
			}
		}
		r := &http.Request{Method: "GET", URL: &url.URL{Path: path}, Header: http.Header{}}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r.WithContext(t.Context()))
		if (w.Code == http.StatusOK) != (path == ical.Path+secret+".ics") || w.Code != http.StatusOK && strings.Contains(w.Body.String(), "VCALENDAR") {
			t.Errorf("%q is answered %d", path, w.Code)
		}
	})
}

// oneSecret is the only secret that holds.
type oneSecret string

func (s oneSecret) Holds(_ context.Context, asked string) (bool, error) {
	return asked == string(s), nil
}
