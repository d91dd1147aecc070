package review

import (
	_ "embed"
	"html/template"
	"io"

	"lathwatch/dashboards/curve"
)

//go:embed page.html
var pageText string

//go:embed page.css
var pageStyle string

var page = template.Must(template.New("review").Parse(pageText))

type pageView struct {
	Title, Span  string
	Style        template.CSS
	Lead         []string
	Patterns     template.HTML
	Charts       []chartView
	Frost, Warm  template.HTML
	Tables       []Table
	Place, Limit string
	Around       []Way
}

// A Way leads to another form of the review or another season; without an address it is the one shown.
type Way struct{ Text, At string }

type chartView struct {
	Title   string
	Drawing template.HTML
	Tall    bool
}

// HTML writes the report as one page that stands alone: no script, no other file, made to be printed.
func (r *Report) HTML(out io.Writer) error {
	s := r.Sheet()
	v := pageView{Title: r.Winter.Title(), Style: template.CSS(pageStyle + curve.PageStyle()), Lead: r.Lead(), Patterns: template.HTML(curve.Patterns()),
		Frost: template.HTML(curve.SpellSwatch(curve.Freezing)), Warm: template.HTML(curve.SpellSwatch(curve.Warm)), Tables: r.Tables(), Around: r.Around}
	v.Span = "Readings from " + dated(r.Winter.From) + " to " + dated(r.Winter.Until)
	if p := r.Winter.place(r.Place); p != nil {
		v.Place = p.name()
	}
	for i := range s.Charts {
		v.Charts = append(v.Charts, chartView{s.Charts[i].Title, template.HTML(s.Draw(i)), i < len(r.places())})
	}
	return page.Execute(out, v)
}

// SVG writes the curves as one picture.
func (r *Report) SVG(out io.Writer) error {
	_, err := io.WriteString(out, r.Sheet().Picture(r.Winter.Title()))
	return err
}
