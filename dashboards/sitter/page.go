package sitter

import (
	_ "embed"
	"html/template"
	"io"
	"slices"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/alerts/sheet"
)

//go:embed sheet.html
var sheetText string

var sheetPage = template.Must(template.New("sheet").Funcs(template.FuncMap{"pots": sheet.PotsWords, "visit": sheet.VisitWords, "next": func(i int) int { return i + 1 },
	"upper": sheet.Upper, "unsure": func() string { return sheet.Unsure }, "ids": func(ids []string) string { return strings.Join(ids, " ") }}).Parse(sheetText))

// A Page is a sheet to print, or, with Ticks, one to press.
type Page struct {
	*sheet.Sheet
	Ticks bool
	Asked []string // what the sitter was asked besides the sheet since yesterday, newest first
	Extra template.HTML
	rows  map[string]state // by the row's first pot
}

type state struct{ done, unseen string }

// HTML writes the page.
func (p Page) HTML(out io.Writer) error { return sheetPage.Execute(out, p) }

// Done says when a row was last ticked, "" when that was not today or yesterday.
func (p Page) Done(r sheet.Row) string { return p.rows[r.Pots[0]].done }

// Unseen says, without blame, that the last water does not show yet.
func (p Page) Unseen(r sheet.Row) string { return p.rows[r.Pots[0]].unseen }

// doneFor is how long a tick is shown as done: the next visit is a day off at least.
const doneFor = 18 * time.Hour

// Of makes the page of the absence on record, to be ticked.
func Of(st *alerts.Standing) Page {
	p := Page{Sheet: sheet.OfAbsence(st), Ticks: true, rows: map[string]state{}}
	for _, c := range st.Recent {
		if c.To == alerts.ToSitter && c.Kind == "sitter-water" && st.At.Sub(c.At) < 36*time.Hour {
			p.Asked = append(p.Asked, c.Text)
		}
	}
	for _, place := range p.Places {
		for _, r := range place.Rows {
			p.rows[r.Pots[0]] = rowState(st, r)
		}
	}
	return p
}

func rowState(st *alerts.Standing, r sheet.Row) (s state) {
	for i := range st.Pots {
		ps := &st.Pots[i]
		if !slices.Contains(r.Pots, ps.Pot.ID) {
			continue
		}
		if ps.Watered.After(st.Away.Since) && st.At.Sub(ps.Watered) < doneFor {
			s.done = "done, " + ps.Watered.In(st.Garden.Site.Zone).Format("Mon 15:04")
		}
		if ps.Contact.After(st.Away.Since) && s.unseen == "" {
			s.unseen = "The water of " + sheet.VisitWords(st.Cal.DateOf(ps.Contact)) + " does not show in " + ps.Pot.ID + ". It may have run past dry soil: please pour slowly, in two goes."
		}
	}
	return s
}
