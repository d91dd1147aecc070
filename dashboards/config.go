package dashboards

import (
	"context"
	"fmt"
	"html/template"
	"log/slog"
	"net/http"
	"sync/atomic"
	"time"

	"lathwatch/sensors/garden"
)

// Config is what the pages are given. Only Standings is required: a page whose source is nil says that it has nothing to show.
type Config struct {
	Standings Standings
	Notes     NoteTaker // nil: nothing can be noted here
	NoteBook  NoteBook
	Messages  Messages
	Curves    Curves
	PotDays   PotDays  // nil: the sixty days of the Standing
	Sessions  Sessions // nil: kept in memory, lost at a restart
	Starts    Starts   // nil: the garden's page shows none

	Page garden.Page // Listen, Hosts and OpenReading are read; files are the caller's
	// Passphrase is the text of the passphrase file: the passphrase itself, or what HashPassphrase made of it. Empty: no signing
	// in, which is refused unless Page.Listen is a loopback address.
	Passphrase string
	// TLS says that the pages are reached over TLS (a server in front that ends it), so that the session cookie may demand it. With
	// Page.CertFile it is so by itself.
	TLS bool

	Mounts []Mount

	// Metrics and Health answer /metrics and /healthz; nil: there are none. The first stands behind a door of its own, the second is open.
	Metrics, Health http.Handler
	ScrapeToken     string // what a program that reads Metrics shows; empty: a session, or loopback where there is no passphrase

	Version string           // shown at the foot
	Now     func() time.Time // nil: time.Now
	Log     *slog.Logger     // nil: slog.Default
	// LiveEvery is how often a live feed looks for a new Standing; zero: 2 s.
	LiveEvery time.Duration
}

// A Mount is a page made elsewhere (a review, a calendar feed) that is served behind the same doors.
type Mount struct {
	Pattern string // method and path as net/http's ServeMux has them: "GET /review"
	Menu    string // its word in the menu, "" for none; the menu leads to the pattern's path
	// Open lets everybody in who knows the address: for feeds whose address is itself a secret, because calendars cannot sign in.
	Open    bool
	Handler http.Handler // may replace the Content-Security-Policy header, which is set before it is called
	// Part, where there is no Handler, makes the inside of a page that is shown in the frame of all pages. It gives nil when it has
	// answered the request itself, with a table say; its error is shown to the reader, with its Status() where it has one.
	Part func(w http.ResponseWriter, r *http.Request) (*Part, error)
}

// Pages serves every page. It is an http.Handler.
type Pages struct {
	cfg     Config
	views   map[string]*template.Template
	door    *door
	handler http.Handler
	assets  map[string]*asset

	feeds   atomic.Int64    // live feeds that are open
	closing context.Context // ends when Serve ends: live feeds stop with it
	stop    context.CancelFunc
}

// New builds the pages. It fails when an address other than loopback is to be served without a passphrase, or the passphrase
// file's text cannot be used.
func New(cfg Config) (*Pages, error) {
	if cfg.Standings == nil {
		return nil, fmt.Errorf("building the pages: no source of standings")
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.Log == nil {
		cfg.Log = slog.Default()
	}
	cfg.TLS = cfg.TLS || cfg.Page.CertFile != ""
	if cfg.LiveEvery <= 0 {
		cfg.LiveEvery = 2 * time.Second
	}
	if err := checkToken(cfg.ScrapeToken); err != nil {
		return nil, fmt.Errorf("building the pages: %w", err)
	}
	p := &Pages{cfg: cfg}
	p.closing, p.stop = context.WithCancel(context.Background())
	var err error
	if p.door, err = newDoor(cfg); err != nil {
		return nil, fmt.Errorf("building the pages: %w", err)
	}
	if p.assets, err = loadAssets(); err != nil {
		return nil, fmt.Errorf("building the pages: %w", err)
	}
	if p.views, err = loadViews(p.assets); err != nil {
		return nil, fmt.Errorf("building the pages: %w", err)
	}
	p.handler = p.routes()
	return p, nil
}

// ServeHTTP answers one request.
func (p *Pages) ServeHTTP(w http.ResponseWriter, r *http.Request) { p.handler.ServeHTTP(w, r) }
