package ledger

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
)

//go:embed page.html
var pageText string

var pageTemplate = template.Must(template.New("ledger").Funcs(template.FuncMap{"date": dateOr}).Parse(pageText))

// A Page is the ledger as a page that stands alone and prints.
type Page struct {
	Site        string
	Book        *Book
	Season      int
	Positions   []Position
	Overdue     []string
	Feeding     []string
	Differences []Difference // of all seasons kept
	Sentinels   []string
}

type pageRow struct {
	Name, Shoots, Ratio, Flowers string
	Nose, Opening, Flower, Leaf  string
	Lost, Pots                   string
}

type pageView struct {
	Page
	Title      string
	Rows       []pageRow
	Collection string
	Differ     string
	Least      int
}

// HTML writes the page.
func (p Page) HTML(out io.Writer) error {
	v := pageView{Page: p, Title: fmt.Sprintf("The plants of %s, season %d", p.Site, p.Season), Collection: p.Book.Collection(p.Season).String(), Least: leastGroup}
	for i := range p.Book.Plants {
		y := p.Book.Plants[i].Year(p.Season)
		if y == nil {
			continue
		}
		name := p.Book.Plants[i].Name
		if name == "" {
			name = p.Book.Plants[i].Plant
		}
		v.Rows = append(v.Rows, pageRow{Name: name, Shoots: y.ShootsWords(), Ratio: y.RatioWords(), Flowers: dash(y.Flowers), Nose: dateOr(y.Nose), Opening: dateOr(y.Opening), Flower: dateOr(y.Flower),
			Leaf: dateOr(y.Leaf), Lost: y.LossWords(), Pots: strings.Join(y.Pots, ", ")})
	}
	return pageTemplate.Execute(out, v)
}

// Words says how a difference stands against chance.
func (d Difference) Words() string {
	if d.Chance > noise {
		return "no more than chance gives"
	}
	more := "more"
	if d.Effect < 0 {
		more = "less"
	}
	return fmt.Sprintf("%s of it in %.0f of 100 pairs more than not", more, 100*abs(d.Effect))
}

// Figure writes a median with one decimal.
func (d Difference) Figure(v float64) string {
	return strings.Replace(fmt.Sprintf("%.1f", v), "-", "−", 1)
}
