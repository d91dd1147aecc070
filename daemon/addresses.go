package daemon

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"time"

	"lathwatch/daemon/journal"
)

// addresses are secret addresses of one kind of page. Only digests are kept, beside the page's sessions and under names no session's
// cookie can have; a digest is of the kind and the secret, so that no address can serve as anything else.
type addresses struct {
	j    *journal.Journal
	kind string
}

func (d *Daemon) addresses(kind string) addresses { return addresses{d.journal, kind} }

// mark counts revocations: a digest is kept under the number in force, older ones hold no longer.
func (a addresses) mark() string { return a.kind + " addresses" }

func (a addresses) name(ctx context.Context, secret string) (string, error) {
	n, _, err := a.j.Mark(ctx, a.mark())
	digest := sha256.Sum256([]byte(a.kind + "\x00" + secret))
	return fmt.Sprintf("%s-%d-%s", a.kind, n, hex.EncodeToString(digest[:])), err
}

// Holds reports whether an address with this secret is in force.
func (a addresses) Holds(ctx context.Context, secret string) (bool, error) {
	name, err := a.name(ctx, secret)
	if err != nil {
		return false, err
	}
	until, ok, err := a.j.Session(ctx, name)
	return ok && !until.IsZero(), err
}

// fresh makes a secret of 192 bits that holds until an instant.
func (a addresses) fresh(ctx context.Context, until time.Time) (secret string, err error) {
	b := make([]byte, 24)
	rand.Read(b)
	secret = base64.RawURLEncoding.EncodeToString(b)
	name, err := a.name(ctx, secret)
	if err == nil {
		err = a.j.SetSession(ctx, name, until, a.kind)
	}
	if err != nil {
		return "", fmt.Errorf("keeping the %s's address: %w", a.kind, err)
	}
	return secret, nil
}

// revoke voids every address there is.
func (a addresses) revoke(ctx context.Context) error {
	n, _, err := a.j.Mark(ctx, a.mark())
	if err == nil {
		err = a.j.SetMark(ctx, a.mark(), n+1)
	}
	if err != nil {
		return fmt.Errorf("revoking the %s's addresses: %w", a.kind, err)
	}
	return nil
}
