package dashboards

import (
	"errors"
	"fmt"
	"net/http"
)

// A refusal is an error the reader caused or can mend: its text is shown.
type refusal struct {
	status int
	say    string
}

func (e *refusal) Error() string { return e.say }

func refuse(status int, format string, args ...any) error {
	return &refusal{status, fmt.Sprintf(format, args...)}
}

// handler is a page that may fail.
type handler func(http.ResponseWriter, *http.Request) error

type failPage struct{ frame }

// answer turns a page's error into a response; errors of our own making are logged, not shown.
func (p *Pages) answer(h handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r); err != nil {
			p.fail(w, r, err)
		}
	})
}

func (p *Pages) fail(w http.ResponseWriter, r *http.Request, err error) {
	var no *refusal
	if !errors.As(err, &no) {
		if r.Context().Err() != nil {
			return // the reader went away
		}
		p.cfg.Log.Error("a page failed", "path", r.URL.Path, "err", err)
		no = &refusal{http.StatusInternalServerError, "This page could not be made. The daemon's log says why."}
	}
	page := &failPage{frame: p.frame(r, p.cfg.Standings.Standing(), "")}
	page.Title = no.say
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Del("ETag")
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(no.status)
	if err := p.views["fail"].Execute(w, page); err != nil {
		p.cfg.Log.Error("the error page failed", "err", err)
	}
}
