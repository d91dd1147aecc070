package dashboards

import (
	"html/template"

	"lathwatch/alerts"
	"lathwatch/dashboards/curve"
)

// factsPage is a page of sections: facts, figures and tables.
type factsPage struct {
	frame
	Lead     string
	Patterns template.HTML
	Sections []section
}

type section struct {
	ID, Title string
	Say       string
	Facts     []fact
	Figures   []figure
	Table     *tableView
	Code      string
	Links     []link
}

type fact struct {
	Name, Value string
	Say         string
	At          string // address the value leads to
}

type tableView struct {
	Head []string
	Rows [][]cell
}

type cell struct{ Text, At string }

func cells(texts ...string) []cell {
	row := make([]cell, len(texts))
	for i, t := range texts {
		row[i].Text = t
	}
	return row
}

// known leaves out facts without a value.
func known(fs ...fact) []fact {
	var out []fact
	for _, f := range fs {
		if f.Value != "" {
			out = append(out, f)
		}
	}
	return out
}

// smallSheet is a sheet for a page's own charts over a span of days.
func (p *Pages) smallSheet(st *alerts.Standing, q winterAsk, gapSeconds int64) *winterSheet {
	ws := &winterSheet{bench: newBench(st, p.cfg.Now()), p: p, q: q, cal: st.Cal}
	ws.sheet = curve.Sheet{Cal: st.Cal, Window: curve.Window{From: q.From.Unix(), Until: q.Until.Unix(), Cols: 360, Gap: gapSeconds}}
	return ws
}

// drawn gives the sheet's figures with their drawings.
func (ws *winterSheet) drawn() []figure {
	for i := range ws.figs {
		ws.figs[i].Chart = template.HTML(ws.sheet.Draw(i))
	}
	return ws.figs
}

func patterns() template.HTML { return template.HTML(curve.Patterns()) }
