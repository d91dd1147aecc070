package main

import (
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
)

func TestDifferencesAreToldInTheOrderOfTime(t *testing.T) {
	at := func(hour int, key, text string, pots ...string) alerts.Change {
		return alerts.Change{Key: key, At: time.Date(2027, 1, 26, hour, 0, 0, 0, time.UTC), Kind: "water-light", Rank: alerts.Week, Text: text, Pots: pots}
	}
	record := []alerts.Change{at(8, "a", "both"), at(9, "b", "then only"), at(12, "c", "fewer pots", "D7", "D9"), at(20, "d", "late, then only")}
	said := []alerts.Change{at(8, "a", "both"), at(10, "e", "now only"), at(12, "c", "one pot", "D7")}
	var out strings.Builder
	if err := new(rehearseCmd).differences(&out, nil, said, record); err != nil {
		t.Fatal(err)
	}
	var got []string
	for line := range strings.Lines(out.String()) {
		got = append(got, line[:18]+" "+strings.TrimSpace(line[40:]))
	}
	want := []string{"- 2027-01-26 09:00 then only", "+ 2027-01-26 10:00 now only", "- 2027-01-26 12:00 fewer pots", "+ 2027-01-26 12:00 one pot", "- 2027-01-26 20:00 late, then only"}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s", out.String())
	}
}
