package sitter

import (
	"bytes"
	"context"
	"net/http"
	"slices"
	"strings"

	"lathwatch/alerts/sheet"
	"lathwatch/dashboards/keyhole"
)

// Path is where the page to tick lies: Path + secret.
const Path = "/sitting/"

// A Source makes the page and takes its ticks.
type Source struct {
	// Page makes the page; ok is false when nobody is away.
	Page func(ctx context.Context) (p Page, ok bool)
	// Tick notes that a row was watered.
	Tick func(ctx context.Context, row sheet.Row) error
}

// Handler serves the page at its secret address and nothing anywhere else. Whoever knows the address may tick; that is all it opens.
func Handler(s keyhole.Secrets, src Source) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		secret, _ := strings.CutPrefix(r.URL.Path, Path)
		if !keyhole.Opens(w, r, s, secret, "The sheet cannot be read just now.") {
			return
		}
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("Cache-Control", "no-store")
		h.Set("Referrer-Policy", "no-referrer") // the address is a secret
		page, away := src.Page(r.Context())
		switch {
		case !away:
			http.Error(w, "Nobody is away just now: there is nothing to do. Thank you.", http.StatusOK)
		case r.Method == http.MethodPost:
			src.tick(w, r, page)
		default:
			var b bytes.Buffer
			if err := page.HTML(&b); err != nil {
				http.Error(w, "The sheet cannot be made just now.", http.StatusInternalServerError)
				return
			}
			h.Set("Content-Type", "text/html; charset=utf-8")
			w.Write(b.Bytes())
		}
	})
}

// tick takes one row's tick: only a row as the sheet has it.
func (src Source) tick(w http.ResponseWriter, r *http.Request, page Page) {
	r.Body = http.MaxBytesReader(w, r.Body, 16<<10)
	pots := strings.Fields(r.PostFormValue("pots"))
	row, ok := page.row(pots)
	if !ok {
		http.Error(w, "The sheet has changed since: go back, load it again and tick once more.", http.StatusConflict)
		return
	}
	if err := src.Tick(r.Context(), row); err != nil {
		http.Error(w, "This could not be noted just now: "+err.Error()+".", http.StatusServiceUnavailable)
		return
	}
	http.Redirect(w, r, r.URL.Path, http.StatusSeeOther)
}

func (p Page) row(pots []string) (sheet.Row, bool) {
	for _, place := range p.Places {
		for _, row := range place.Rows {
			if row.Litres > 0 && slices.Equal(row.Pots, pots) {
				return row, true
			}
		}
	}
	return sheet.Row{}, false
}
