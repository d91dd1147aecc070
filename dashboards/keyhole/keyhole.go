// Package keyhole is the door of what lies at a secret address: whoever knows the address gets in, and nobody else hears that there is
// anything.
package keyhole

import (
	"context"
	"net/http"
)

// Secrets knows which addresses hold.
type Secrets interface {
	Holds(ctx context.Context, secret string) (bool, error)
}

// Bounds of a secret's length, bytes: what lies outside is not looked up.
const (
	shortest = 20
	longest  = 100
)

// Opens reports whether an address with this secret holds. Where it does not, the answer is written: not found, or shut where that
// cannot be looked up just now.
func Opens(w http.ResponseWriter, r *http.Request, s Secrets, secret, shut string) bool {
	if len(secret) < shortest || len(secret) > longest {
		http.NotFound(w, r)
		return false
	}
	holds, err := s.Holds(r.Context(), secret)
	switch {
	case err != nil:
		http.Error(w, shut, http.StatusServiceUnavailable)
	case !holds:
		http.NotFound(w, r)
	}
	return holds && err == nil
}
