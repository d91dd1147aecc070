package daemon

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"

	"lathwatch/dashboards"
	"lathwatch/dashboards/ical"
	"lathwatch/dashboards/ledger"
	"lathwatch/dashboards/moves"
	"lathwatch/dashboards/review"
	"lathwatch/dashboards/sentinel"
	"lathwatch/dashboards/sitter"
)

// YearPages are the pages of the year, to be mounted behind the pages' own doors: review, ledger, sitter's sheet, calendar.
func (d *Daemon) YearPages() []dashboards.Mount {
	return []dashboards.Mount{
		{Pattern: "GET /review", Menu: "Review", Handler: d.ReviewPages()},
		{Pattern: "GET /ledger", Menu: "Ledger", Handler: answered(d.ledgerPage)},
		{Pattern: "GET /moves", Menu: "In and out", Handler: answered(d.movesPage)},
		{Pattern: "GET /sitter", Menu: "Sitter", Handler: answered(d.sitterPage)},
		{Pattern: "POST /sitter", Handler: http.HandlerFunc(d.sitterAway)},
		{Pattern: "GET " + sitter.Path, Open: true, Handler: d.sitting()},
		{Pattern: "POST " + sitter.Path, Open: true, Handler: d.sitting()},
		{Pattern: "GET " + ical.Path, Open: true, Handler: d.Calendar()},
	}
}

// A sheetOf is a page made whole before a byte is sent.
type sheetOf struct {
	kind string
	body bytes.Buffer
}

func answered(make func(r *http.Request, out *sheetOf) error) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		out := sheetOf{kind: "text/html; charset=utf-8"}
		if err := make(r, &out); err != nil {
			http.Error(w, "This page cannot be made: "+err.Error()+".", http.StatusUnprocessableEntity)
			return
		}
		h := w.Header()
		h.Set("Content-Type", out.kind)
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'") // the page brings its own style
		w.Write(out.body.Bytes())
	})
}

func (d *Daemon) ledgerPage(r *http.Request, out *sheetOf) error {
	book, g, err := Ledger(r.Context(), d.journal)
	if err != nil {
		return err
	}
	if r.URL.Query().Get("as") == "csv" {
		out.kind = "text/csv; charset=utf-8"
		return book.CSV(&out.body)
	}
	p := ledger.Page{Site: g.Site.Name, Book: book, Positions: book.Positions(g), Season: book.Cal.Season(book.Cal.DateOf(d.cfg.Now()))}
	if p.Site == "" {
		p.Site = g.Site.ID
	}
	if s := r.URL.Query().Get("season"); s != "" {
		if p.Season, err = strconv.Atoi(s); err != nil {
			return fmt.Errorf("season %q is no year", s)
		}
	}
	kept, err := d.keptWinters(r.Context())
	if err != nil {
		return err
	}
	p.Differences = ledger.Differ(book, kept, 0)
	for _, w := range kept {
		if w.Season == p.Season {
			p.Feeding = ledger.FeedLines(w, g, ledger.PlanOf(g))
		}
	}
	if st := d.Standing(); st != nil && st.Garden != nil {
		p.Overdue = ledger.Overdue(st)
		if p.Season == st.Season {
			p.Feeding = ledger.FeedingNow(st)
		}
		for _, s := range sentinel.Choose(sentinel.Traits(st), sentinelsMost) {
			p.Sentinels = append(p.Sentinels, s.String())
		}
	}
	return p.HTML(&out.body)
}

// sentinelsMost is how many pots are worth a probe in a collection: three to six watch a hundred.
const sentinelsMost = 5

// keptWinters are the briefs on record, without walking anything.
func (d *Daemon) keptWinters(ctx context.Context) ([]*review.Winter, error) {
	rows, err := d.journal.Seasons(ctx)
	if err != nil {
		return nil, err
	}
	var out []*review.Winter
	for _, r := range rows {
		var k keptWinter
		if r.Name == winterRow && r.Version == review.Version && json.Unmarshal(r.Data, &k) == nil && k.Winter != nil {
			out = append(out, k.Winter)
		}
	}
	return out, nil
}

func (d *Daemon) movesPage(_ *http.Request, out *sheetOf) error {
	st := d.Standing()
	if st == nil || st.Garden == nil {
		return errors.New("there is no garden yet")
	}
	return moves.Weigh(st).HTML(&out.body)
}
