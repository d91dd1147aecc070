package main

import (
	"testing"
	"time"
)

func TestAnInstantIsReadByTheBoardsClockUnlessItNamesAZone(t *testing.T) {
	was := time.Local
	time.Local = time.FixedZone("", 3600)
	t.Cleanup(func() { time.Local = was })
	for _, c := range []struct{ text, want string }{
		{"2027-01-26T12:00:00Z", "2027-01-26T12:00:00Z"}, {"2027-01-26T12:00:00+02:00", "2027-01-26T10:00:00Z"},
		{"2027-01-26 12:00", "2027-01-26T11:00:00Z"}, {"2027-01-26T12:00", "2027-01-26T11:00:00Z"}, {"yesterday", ""}, {"26.1.2027", ""}} {
		var m moment
		err := m.UnmarshalText([]byte(c.text))
		if got := time.Time(m).UTC().Format(time.RFC3339); (err != nil) != (c.want == "") || err == nil && got != c.want {
			t.Errorf("%q: %s, %v, want %s", c.text, got, err, c.want)
		}
	}
}
