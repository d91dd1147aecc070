package dashboards

import (
	"crypto/sha256"
	"crypto/subtle"
	"fmt"
	"net/http"
	"strings"
)

// minToken is the least number of bytes of a token that programs show at the door: it is never typed, so it may be long.
const minToken = 16

// A scraper is the door for programs that read figures: a token of their own, or a session where there is a passphrase. Without
// either only this board gets in, since then the page listens on loopback alone. Open reading does not open it: how a daemon
// fares is nobody else's business.
func (p *Pages) scraper(next http.Handler) http.Handler {
	want := sha256.Sum256([]byte(p.cfg.ScrapeToken))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		shown, bearer := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
		got := sha256.Sum256([]byte(shown)) // digests: the time of the comparison says nothing, not even the length
		switch {
		case p.cfg.ScrapeToken != "" && bearer && subtle.ConstantTimeCompare(got[:], want[:]) == 1:
		case p.door.phrase != nil && p.door.signedIn(r):
		case p.cfg.ScrapeToken == "" && p.door.phrase == nil:
		default:
			if bearer {
				p.cfg.Log.Warn("a wrong token was shown", "from", peer(r))
			}
			w.Header().Set("WWW-Authenticate", `Bearer realm="lathwatch"`)
			http.Error(w, "Show the token, or sign in.", http.StatusUnauthorized)
			return
		}
		next.ServeHTTP(w, r)
	})
}

func checkToken(token string) error {
	if token != "" && len(token) < minToken {
		return fmt.Errorf("the metrics' token has fewer than %d characters: write a longer one, it is never typed", minToken)
	}
	return nil
}
