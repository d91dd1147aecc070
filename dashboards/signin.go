package dashboards

import (
	"net/http"
	"strconv"
	"strings"
	"time"
	"unicode"
)

type signInPage struct {
	frame
	Back  string
	Wrong string
	Plain bool // the words cross the network readable
}

func (p *Pages) signInForm(w http.ResponseWriter, r *http.Request) error {
	return p.showSignIn(w, r, http.StatusOK, back(r.URL.Query().Get("back")), "")
}

func (p *Pages) showSignIn(w http.ResponseWriter, r *http.Request, status int, to, wrong string) error {
	page := &signInPage{frame: p.frame(r, nil, "sign-in"), Back: to, Wrong: wrong, Plain: !p.cfg.TLS && r.TLS == nil && !forwarded(r)}
	page.Title = "Sign in"
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	return p.views["signin"].Execute(w, page)
}

// signIn takes one guess at a time. Nothing that was typed reaches the log.
func (p *Pages) signIn(w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if err := r.ParseForm(); err != nil {
		return refuse(http.StatusBadRequest, "The form could not be read.")
	}
	to := back(r.PostForm.Get("back"))
	if p.door.phrase == nil {
		http.Redirect(w, r, to, http.StatusSeeOther)
		return nil
	}
	from := peer(r)
	select {
	case p.door.guess <- struct{}{}:
		defer func() { <-p.door.guess }()
	case <-r.Context().Done():
		return r.Context().Err()
	}
	if wait := p.door.misses.wait(from, p.cfg.Now()); wait > 0 {
		secs := int((wait + time.Second - 1) / time.Second)
		w.Header().Set("Retry-After", strconv.Itoa(secs))
		return p.showSignIn(w, r, http.StatusTooManyRequests, to, "Too many wrong tries. Wait "+strconv.Itoa(secs)+" s and try again.")
	}
	if !p.door.phrase.matches(r.PostForm.Get("passphrase")) {
		p.door.misses.missed(from, p.cfg.Now())
		p.cfg.Log.Warn("a wrong passphrase was given", "from", from)
		return p.showSignIn(w, r, http.StatusForbidden, to, "That is not the passphrase.")
	}
	p.door.misses.hit(from)
	if err := p.door.openSession(r.Context(), w); err != nil {
		return err
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

func (p *Pages) signOut(w http.ResponseWriter, r *http.Request) error {
	if err := p.door.closeSession(w, r); err != nil {
		return err
	}
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	return nil
}

// back keeps a way back on this site: a path of our own, never another host.
func back(to string) string {
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.Contains(to, "\\") || strings.ContainsFunc(to, unicode.IsControl) || strings.HasPrefix(to, "/sign-") {
		return "/"
	}
	return to
}
