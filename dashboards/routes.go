package dashboards

import (
	"net/http"
	"net/url"
	"strings"
)

// routes lays out every address. Reading and writing pass different doors.
func (p *Pages) routes() http.Handler {
	mux := http.NewServeMux()
	read := func(pattern string, h handler) { mux.Handle("GET "+pattern, p.reading(p.answer(h))) }
	write := func(pattern string, h handler) { mux.Handle("POST "+pattern, p.writers(p.answer(h))) }

	read("/{$}", p.today)
	read("/winter", p.winter)
	read("/winter/sheet", p.sheetOnly)
	read("/winter.csv", p.winterCSV)
	read("/winter.svg", p.picture)
	read("/pot/{id}", p.potPage)
	read("/plant/{id}", p.plantPage)
	read("/probe/{id}", p.probePage)
	read("/said", p.said)
	read("/garden", p.gardenPage)
	read("/live", p.live)
	write("/note", p.note)
	write("/alert", p.alert)
	write("/undo", p.undo)
	for _, m := range p.cfg.Mounts {
		if h := p.served(m); m.Open {
			mux.Handle(m.Pattern, h)
		} else if strings.HasPrefix(m.Pattern, "GET ") {
			mux.Handle(m.Pattern, p.reading(h))
		} else {
			mux.Handle(m.Pattern, p.writers(h))
		}
	}
	if p.cfg.Metrics != nil {
		mux.Handle("GET /metrics", p.scraper(p.cfg.Metrics))
	}
	if p.cfg.Health != nil {
		mux.Handle("GET /healthz", p.cfg.Health)
	}
	mux.Handle("GET /sign-in", p.answer(p.signInForm))
	mux.Handle("POST /sign-in", p.answer(p.signIn))
	mux.Handle("POST /sign-out", p.answer(p.signOut))
	mux.Handle("GET /static/", p.answer(p.static))
	mux.Handle("/", p.answer(func(http.ResponseWriter, *http.Request) error {
		return refuse(http.StatusNotFound, "There is no such page.")
	}))
	return p.guard(packed(http.NewCrossOriginProtection().Handler(mux)))
}

// guard holds for every request: whose name it may use, and what a browser may do with the answer.
func (p *Pages) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "+
			"form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		switch {
		case !p.door.host(r):
			http.Error(w, "This garden does not answer to that name. Add it to the page's hosts in garden.toml.", http.StatusMisdirectedRequest)
		case p.door.phrase == nil && forwarded(r):
			http.Error(w, "Behind another server this page needs a passphrase.", http.StatusForbidden)
		default:
			next.ServeHTTP(w, r)
		}
	})
}

// reading lets readers in.
func (p *Pages) reading(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if p.door.open || p.door.signedIn(r) {
			next.ServeHTTP(w, r)
			return
		}
		if r.URL.Path == "/live" {
			http.Error(w, "sign in first", http.StatusUnauthorized)
			return
		}
		http.Redirect(w, r, "/sign-in?back="+url.QueryEscape(r.URL.RequestURI()), http.StatusSeeOther)
	})
}

// writers lets those in who may write things down.
func (p *Pages) writers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if p.door.signedIn(r) {
			next.ServeHTTP(w, r)
			return
		}
		http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	})
}
