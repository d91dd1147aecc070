package checks_test

import (
	"testing"
	"time"

	"lathwatch/sensors/checks"
)

// RFC 3339 allows a leap second and lower-case letters; the standard library, through which every time of ours is read, refuses
// both. That is kept: a refused row is reported by its reader, a guessed instant would not be.
func TestTimesAreReadAsRFC3339WithoutLeapSecondsAndLowerCase(t *testing.T) {
	var in struct{ S []string }
	checks.Input(t, "pr-rfc3339", &in)
	var got struct {
		Instants []any `json:"instants"`
	}
	for _, s := range in.S {
		at, err := time.Parse(time.RFC3339, s)
		if err != nil {
			got.Instants = append(got.Instants, nil)
			continue
		}
		got.Instants = append(got.Instants, at.UTC().Format(time.RFC3339Nano))
	}
	checks.Is(t, "pr-rfc3339", got)

	at, err := time.Parse(time.RFC3339, "2026-01-01T00:00:00-00:00")
	if err != nil || !at.Equal(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("-00:00 is UTC of unknown local time in RFC 3339 section 4.3: got %v, %v", at, err)
	}
}
