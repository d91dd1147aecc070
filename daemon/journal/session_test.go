package journal

import (
	"fmt"
	"testing"
	"time"
)

func TestOnlySoManySessionsOfALabelAreKept(t *testing.T) {
	j := open(t, dir(t)+"/j.journal", Options{Ballast: -1, Now: func() time.Time { return t0 }})
	if err := j.SetSession(bg, "calendar-1", t0.Add(time.Hour), "calendar"); err != nil {
		t.Fatal(err)
	}
	for i := range maxSessions + 5 {
		if err := j.SetSession(bg, fmt.Sprintf("s%04d", i), t0.Add(time.Hour+time.Duration(i)*time.Second), ""); err != nil {
			t.Fatal(err)
		}
	}
	for name, want := range map[string]bool{"calendar-1": true, "s0000": false, "s0004": false, "s0005": true, fmt.Sprintf("s%04d", maxSessions+4): true} {
		if _, ok, err := j.Session(bg, name); ok != want || err != nil {
			t.Errorf("%s: %v, %v", name, ok, err)
		}
	}
}
