package dashboards

import (
	"errors"
	"html/template"
	"net/http"
	"strings"
)

// A Part is the inside of a page made elsewhere.
type Part struct {
	Title string
	Body  template.HTML
}

type partPage struct {
	frame
	Body template.HTML
}

// served is a mount's handler: its own, or its part in the common frame.
func (p *Pages) served(m Mount) http.Handler {
	if m.Handler != nil || m.Part == nil {
		return m.Handler
	}
	return p.answer(func(w http.ResponseWriter, r *http.Request) error {
		part, err := m.Part(w, r)
		var s interface {
			error
			Status() int
		}
		if errors.As(err, &s) {
			return refuse(s.Status(), "%s", s.Error())
		}
		if err != nil {
			return refuse(http.StatusUnprocessableEntity, "This page cannot be made: %v.", err)
		}
		if part == nil {
			return nil
		}
		page := &partPage{frame: p.frame(r, p.cfg.Standings.Standing(), hereOf(m.Pattern)), Body: part.Body}
		page.Title = part.Title
		w.Header().Set("Cache-Control", "no-store")
		return p.show(w, "part", page)
	})
}

// hereOf is a mounted page's word in the menu's "you are here": its path without the slash.
func hereOf(pattern string) string {
	_, path, _ := strings.Cut(pattern, " ")
	return strings.TrimPrefix(path, "/")
}
