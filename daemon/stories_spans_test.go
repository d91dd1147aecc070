package daemon

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
)

// More lines a story may expect:
//
//	quiet 2027-01-20T07:06 .. 2027-01-23         no message of any kind in that span
//	wide 0.03 2027-01-12T06:05 .. 2027-01-19     no account of cold is wider than 0.03 days in that span
//	sitter sitter-water                          every message of the kind is for the sitter
//	nottext too-wet "leak"                       no message of the kind matches
//	digests 1 2027-08-02 .. 2027-08-17           so many weekly digests in that span; they come without any rule
//
// There are no remarks among them: a line that asks for nothing is refused like any other that is not known.
type width struct {
	at time.Time
	w  float64
}

func widest(st *alerts.Standing) (w float64) {
	for i := range st.Pots {
		if c := st.Pots[i].ColdCredit; c.OK {
			w = max(w, c.High-c.Low)
		}
	}
	return w
}

func (s *story) wide(t testing.TB, out told, f []string) string {
	limit, err := strconv.ParseFloat(f[1], 64)
	if err != nil {
		t.Fatal(err)
	}
	from, until := s.span(t, f[2], f[4])
	worst, seen := width{}, 0
	for _, w := range out.widths {
		if !w.at.Before(from) && w.at.Before(until) {
			seen++
			if w.w > worst.w {
				worst = w
			}
		}
	}
	if seen == 0 {
		return "nothing was measured"
	}
	if worst.w > limit {
		return fmt.Sprintf("%.4f wide at %s", worst.w, worst.at.Format(time.RFC3339))
	}
	return ""
}

func (s *story) quiet(t testing.TB, out told, f []string) string {
	from, until := s.span(t, f[1], f[3])
	for _, c := range out.said {
		if !c.At.Before(from) && c.At.Before(until) {
			return "sent\n" + list([]alerts.Change{c})
		}
	}
	return ""
}

func (s *story) toSitter(out told, f []string) string {
	for _, c := range kind(out.said, f[1]) {
		if c.To != "sitter" {
			return "sent to the keeper\n" + list([]alerts.Change{c})
		}
	}
	return ""
}

func (s *story) nottext(out told, e string, f []string) string {
	_, pattern, _ := strings.Cut(e, `"`)
	re := regexp.MustCompile(strings.TrimSuffix(strings.TrimSpace(pattern), `"`))
	for _, c := range kind(out.said, f[1]) {
		if re.MatchString(c.Text) {
			return "text is " + c.Text
		}
	}
	return ""
}

func (s *story) digests(t testing.TB, out told, f []string) string {
	from, until := s.span(t, f[2], f[4])
	n := 0
	for _, c := range kind(out.said, "digest") {
		if !c.At.Before(from) && c.At.Before(until) {
			n++
		}
	}
	if strconv.Itoa(n) != f[1] {
		return fmt.Sprintf("%d were sent\n%s", n, list(kind(out.said, "digest")))
	}
	return ""
}
