package ledger

import (
	"strings"
	"testing"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/tape"
)

// FuzzImport: each note a ledger file becomes is one the journal takes, lies in the season of its row, and is about a plant the garden
// has; every refusal names a line of the file.
func FuzzImport(f *testing.F) {
	head := strings.Join(columns, ",") + "\n"
	f.Add(head + "2027,P1,8,3,2027-04-12,2027-04-20,2027-05-30,2027-10-01,,,1.50\n2026,P1,,,,,,,2027-02-01,\"slugs, wet\",\n")
	f.Add("plant,season,shoots\nP1,2027,-1\nP2,2027,\"8\n\",9\nP9,2027,1\n")
	f.Add("\ufeffseason,plant,nose\n99999999999999999999,P1,2027-01-01\n2027,P1,2027-13-01\n2027,P1,0000-01-01\n")
	f.Add(head + "2027,P1,,=HYPERLINK(\"http://evil.example\"),2027-04-12,,2027-05-30,,2027-06-01,@SUM(A1)\x00,")
	f.Fuzz(func(t *testing.T, text string) {
		cal := garden.Calendar{Zone: time.UTC}
		notes, bad, err := Import("ledger.csv", strings.NewReader(text), cal, func(p string) bool { return p == "P1" || p == "P2" })
		if err != nil {
			return
		}
		lines := strings.Count(text, "\n") + strings.Count(text, "\r") + 1
		for _, b := range bad {
			if b.Line < 1 || b.Line > lines || b.Say == "" {
				t.Errorf("of %d lines: %+v", lines, b)
			}
		}
		for i, n := range notes {
			strict, err := tape.Checked(n)
			if err != nil || strict != n || n.Subject != "P1" && n.Subject != "P2" || i > 0 && n.At.Before(notes[i-1].At) {
				t.Errorf("%+v: %v", n, err)
			}
			if s := cal.Season(cal.DateOf(n.At)); !strings.Contains(text, strings.TrimSpace(itoa(s))) {
				t.Errorf("%+v lies in the season of %d, which no row names", n, s)
			}
		}
	})
}

func itoa(n int) string { return time.Date(n, 1, 1, 0, 0, 0, 0, time.UTC).Format("2006") }
