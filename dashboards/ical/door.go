package ical

import (
	"bytes"
	"context"
	"net/http"
	"strings"

	"lathwatch/dashboards/keyhole"
)

// Calendar apps cannot sign in: who knows the address reads the calendar. The address holds a long secret; only its digest is kept,
// and it can be revoked.

// Path is where the feed lies: Path + secret + ".ics".
const Path = "/calendar/"

// Handler serves the feed at its secret address and nothing anywhere else.
func Handler(s keyhole.Secrets, feed func(context.Context) (Feed, error)) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name, _ := strings.CutPrefix(r.URL.Path, Path)
		secret, ok := strings.CutSuffix(name, ".ics")
		if !ok || r.Method != http.MethodGet && r.Method != http.MethodHead {
			http.NotFound(w, r)
			return
		}
		if !keyhole.Opens(w, r, s, secret, "the calendar cannot be read just now") {
			return
		}
		f, err := feed(r.Context())
		var b bytes.Buffer
		if err == nil {
			err = f.Write(&b)
		}
		if err != nil || len(f.Events) == 0 {
			http.Error(w, "the calendar cannot be made just now", http.StatusServiceUnavailable)
			return
		}
		w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
		w.Header().Set("Cache-Control", "private, max-age=3600")
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Write(b.Bytes())
	})
}
