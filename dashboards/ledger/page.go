package ledger

import (
	"cmp"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"

	"lathwatch/sensors/garden"
)

//go:embed page.html
var pageText string

var pageTemplate = template.Must(template.New("ledger").Funcs(template.FuncMap{"place": func(p Position) string { return cmp.Or(p.PlaceName, p.Place) }}).Parse(pageText))

// A Page is the ledger as the inside of a page.
type Page struct {
	Site        string
	Book        *Book
	Season      int
	Positions   []Position
	Overdue     []string
	Feeding     []string // of a season that is over
	FedNow      []FedRow // of the season that runs
	FedHow      string
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
	Rows       []pageRow
	Collection string
	Differ     string
	Least      int
}

// Title heads the page.
func (p Page) Title() string { return fmt.Sprintf("Ledger, season %d", p.Season) }

// Date writes a date of the season's year without it.
func (p Page) Date(d garden.Date) string { return shortDate(p.Season, d) }

// HTML writes the inside of the page.
func (p Page) HTML(out io.Writer) error {
	v := pageView{Page: p, Collection: p.Book.Collection(p.Season).String(), Least: leastGroup}
	for i := range p.Book.Plants {
		y := p.Book.Plants[i].Year(p.Season)
		if y == nil {
			continue
		}
		name := p.Book.Plants[i].Name
		if name == "" {
			name = p.Book.Plants[i].Plant
		}
		v.Rows = append(v.Rows, pageRow{Name: name, Shoots: y.ShootsWords(), Ratio: y.RatioWords(), Flowers: dash(y.Flowers), Nose: p.Date(y.Nose), Opening: p.Date(y.Opening), Flower: p.Date(y.Flower),
			Leaf: p.Date(y.Leaf), Lost: y.LossWords(), Pots: strings.Join(y.Pots, ", ")})
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
	return fmt.Sprintf("%s of it in %.0f of 100 pairs", more, 50*(1+abs(d.Effect)))
}

// Figure writes a median with one decimal.
func (d Difference) Figure(v float64) string {
	return strings.Replace(fmt.Sprintf("%.1f", v), "-", "−", 1)
}
