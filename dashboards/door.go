package dashboards

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"time"
)

const (
	cookieName  = "lathwatch_gate" // cookies are shared by all ports of a host: a name of our own
	sessionLife = 180 * 24 * time.Hour
)

// door decides who may read and who may write.
type door struct {
	phrase   *phrase // nil: no signing in, loopback only
	open     bool    // reading needs no passphrase
	tls      bool
	hosts    map[string]bool
	sessions Sessions
	now      func() time.Time
	misses   *misses
	guess    chan struct{} // one guess at a time: a guess costs memory
}

func newDoor(cfg Config) (*door, error) {
	d := &door{open: cfg.Page.OpenReading, tls: cfg.TLS, hosts: map[string]bool{"localhost": true}, sessions: cfg.Sessions, now: cfg.Now,
		misses: newMisses(), guess: make(chan struct{}, 1)}
	for _, h := range cfg.Page.Hosts {
		d.hosts[strings.ToLower(strings.TrimSuffix(h, "."))] = true
	}
	if d.sessions == nil {
		d.sessions = newShortMemory()
	}
	if cfg.Passphrase != "" {
		var err error
		d.phrase, err = readPhrase(cfg.Passphrase)
		return d, err
	}
	if !onlyLoopback(cfg.Page.Listen) {
		return nil, fmt.Errorf("the page would listen on %s, which others can reach: give it a passphrase file, or listen on 127.0.0.1", cfg.Page.Listen)
	}
	return d, nil
}

// onlyLoopback reports whether an address can be reached from this board alone. Empty means the default, which is loopback.
func onlyLoopback(listen string) bool {
	if listen == "" {
		return true
	}
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		return false
	}
	if host == "localhost" {
		return true
	}
	a, err := netip.ParseAddr(host)
	return err == nil && a.IsLoopback()
}

// host reports whether the request names this site: an address, localhost or a configured name. A stranger's name that was made
// to point here (DNS rebinding) is refused.
func (d *door) host(r *http.Request) bool {
	h := r.Host
	if name, _, err := net.SplitHostPort(h); err == nil {
		h = name
	}
	h = strings.ToLower(strings.TrimSuffix(strings.Trim(h, "[]"), "."))
	if _, err := netip.ParseAddr(h); err == nil {
		return true
	}
	return d.hosts[h]
}

// forwarded reports a request that came through another server: then loopback no longer means this board.
func forwarded(r *http.Request) bool {
	return r.Header.Get("Forwarded") != "" || r.Header.Get("X-Forwarded-For") != "" || r.Header.Get("X-Forwarded-Host") != "" || r.Header.Get("Via") != ""
}

// signedIn reports whether the request carries a session that still stands.
func (d *door) signedIn(r *http.Request) bool {
	if d.phrase == nil {
		return true
	}
	hash, ok := sessionHash(r)
	if !ok {
		return false
	}
	until, err := d.sessions.Session(r.Context(), hash)
	return err == nil && d.now().Before(until)
}

func sessionHash(r *http.Request) ([32]byte, bool) {
	c, err := r.Cookie(cookieName)
	if err != nil {
		return [32]byte{}, false
	}
	secret, err := base64.RawURLEncoding.DecodeString(c.Value)
	if err != nil || len(secret) != 32 {
		return [32]byte{}, false
	}
	return sha256.Sum256(secret), true
}

// openSession makes a session and its cookie. Only its digest is kept, so reading the store opens nothing.
func (d *door) openSession(ctx context.Context, w http.ResponseWriter) error {
	secret := make([]byte, 32)
	rand.Read(secret)
	until := d.now().Add(sessionLife)
	if err := d.sessions.KeepSession(ctx, sha256.Sum256(secret), until); err != nil {
		return fmt.Errorf("keeping a session: %w", err)
	}
	http.SetCookie(w, d.cookie(base64.RawURLEncoding.EncodeToString(secret), int(sessionLife.Seconds())))
	return nil
}

func (d *door) cookie(value string, age int) *http.Cookie {
	return &http.Cookie{Name: cookieName, Value: value, Path: "/", MaxAge: age, HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: d.tls}
}

func (d *door) closeSession(w http.ResponseWriter, r *http.Request) error {
	http.SetCookie(w, d.cookie("", -1))
	hash, ok := sessionHash(r)
	if !ok {
		return nil
	}
	if err := d.sessions.DropSession(r.Context(), hash); err != nil {
		return fmt.Errorf("ending a session: %w", err)
	}
	return nil
}
