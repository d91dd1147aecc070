package daemon

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"io"
	"maps"
	"net/http"
	"strconv"
	"strings"

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
		{Pattern: "GET /review", Menu: "Review", Part: d.reviewPage},
		{Pattern: "GET /ledger", Menu: "Ledger", Part: d.ledgerPage},
		{Pattern: "GET /moves", Menu: "In and out", Part: d.movesPage},
		{Pattern: "GET /sitter", Menu: "Sitter", Part: d.sitterPage},
		{Pattern: "POST /sitter", Handler: http.HandlerFunc(d.sitterAway)},
		{Pattern: "GET " + sitter.Path, Open: true, Handler: d.sitting()},
		{Pattern: "POST " + sitter.Path, Open: true, Handler: d.sitting()},
		{Pattern: "GET " + ical.Path, Open: true, Handler: d.Calendar()},
	}
}

// part is the inside of a page, written by write.
func part(title string, write func(io.Writer) error) (*dashboards.Part, error) {
	var b strings.Builder
	if err := write(&b); err != nil {
		return nil, err
	}
	return &dashboards.Part{Title: title, Body: template.HTML(b.String())}, nil
}

// answeredWhole answers with something that is no page in the frame, made whole before a byte is sent.
func answeredWhole(w http.ResponseWriter, kind string, write func(io.Writer) error) (*dashboards.Part, error) {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return nil, err
	}
	h := w.Header()
	h.Set("Content-Type", kind)
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'") // a page brings its own style
	_, err := w.Write(b.Bytes())
	return nil, err
}

// A held answer is looked at before it is sent.
type held struct {
	head http.Header
	body bytes.Buffer
	code int
}

func (h *held) Header() http.Header         { return h.head }
func (h *held) Write(b []byte) (int, error) { return h.body.Write(b) }
func (h *held) WriteHeader(code int)        { h.code = code }

// Error and Status make a refusal of it, to be shown in the frame of all pages.
func (h *held) Error() string { return strings.TrimSpace(h.body.String()) }
func (h *held) Status() int   { return h.code }

// reviewPage hands the review out as it is; what cannot be shown is said in the frame.
func (d *Daemon) reviewPage(w http.ResponseWriter, r *http.Request) (*dashboards.Part, error) {
	h := &held{head: http.Header{}, code: http.StatusOK}
	d.ReviewPages().ServeHTTP(h, r)
	if h.code != http.StatusOK {
		return nil, h
	}
	maps.Copy(w.Header(), h.head)
	_, err := w.Write(h.body.Bytes())
	return nil, err
}

func (d *Daemon) ledgerPage(w http.ResponseWriter, r *http.Request) (*dashboards.Part, error) {
	book, g, err := Ledger(r.Context(), d.journal)
	if err != nil {
		return nil, err
	}
	if r.URL.Query().Get("as") == "csv" {
		return answeredWhole(w, "text/csv; charset=utf-8", book.CSV)
	}
	p := ledger.Page{Site: g.Site.Name, Book: book, Positions: book.Positions(g), Season: book.Cal.Season(book.Cal.DateOf(d.cfg.Now()))}
	if p.Site == "" {
		p.Site = g.Site.ID
	}
	if s := r.URL.Query().Get("season"); s != "" {
		if p.Season, err = strconv.Atoi(s); err != nil {
			return nil, fmt.Errorf("season %q is no year", s)
		}
	}
	kept, err := d.keptWinters(r.Context())
	if err != nil {
		return nil, err
	}
	p.Differences = ledger.Differ(book, kept, 0)
	for _, k := range kept {
		if k.Season == p.Season {
			p.Feeding = ledger.FeedLines(k, g, ledger.PlanOf(g))
		}
	}
	if st := d.Standing(); st != nil && st.Garden != nil {
		p.Overdue = ledger.Overdue(st)
		if p.Season == st.Season {
			p.Feeding, p.FedNow, p.FedHow = nil, ledger.FedRows(st), ledger.PlanOf(st.Garden).How()
		}
		for _, s := range sentinel.Learn(st, sentinel.Choose(sentinel.Traits(st), sentinelsMost)) {
			p.Sentinels = append(p.Sentinels, s.String())
		}
	}
	return part(p.Title(), p.HTML)
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

func (d *Daemon) movesPage(http.ResponseWriter, *http.Request) (*dashboards.Part, error) {
	st := d.Standing()
	if st == nil || st.Garden == nil {
		return nil, errors.New("there is no garden yet")
	}
	return part("In and out", moves.Weigh(st).HTML)
}
