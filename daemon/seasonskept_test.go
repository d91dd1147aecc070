package daemon_test

import (
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/daemon"
)

// Nobody has asked for a review: once the night's work is done the ledger tells what differed, and a second night changes nothing.
func TestTheLedgerNeedsNoReviewToTellWhatDiffered(t *testing.T) {
	d, pages := yearOfShoots(t, 6*time.Hour)
	page := func() string {
		w := httptest.NewRecorder()
		pages.ServeHTTP(w, httptest.NewRequest("GET", "http://127.0.0.1/ledger?season=2027", nil))
		return w.Body.String()
	}
	if got := page(); !strings.Contains(got, "4 of 8 plants doubled") || !strings.Contains(got, "Too little is on record to compare") {
		t.Error("before the first night something is compared already")
	}
	daemon.KeepSeasons(d, t.Context())
	if got := page(); !strings.Contains(got, "A difference is no cause.") || strings.Contains(got, "Too little is on record") {
		t.Error("the night's work is done and the ledger tells no difference")
	}
	rows, err := d.Journal().Seasons(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	daemon.KeepSeasons(d, t.Context())
	if again, err := d.Journal().Seasons(t.Context()); err != nil || !cmp.Equal(rows, again) {
		t.Errorf("the second night changed what is kept: %v", err)
	}
}
