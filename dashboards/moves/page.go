package moves

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
)

//go:embed page.html
var pageText string

var page = template.Must(template.New("moves").Funcs(template.FuncMap{"chance": chanceWords, "wet": wetWords, "warmer": warmerWords}).Parse(pageText))

// HTML writes the table as a page that stands alone.
func (w Weighed) HTML(out io.Writer) error { return page.Execute(out, w) }

// chanceWords writes a chance in whole per cents, never as a certainty.
func chanceWords(c float64) string {
	switch {
	case math.IsNaN(c):
		return "not known"
	case c < 0.005:
		return "under 1 %"
	case c > 0.99:
		return "over 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*c)
}

func wetWords(p Pot) string {
	switch {
	case math.IsNaN(p.Wet):
		return "not measured"
	case p.ToHalf > 0:
		return fmt.Sprintf("%.0f %%, about %.0f days to a half", 100*p.Wet, p.ToHalf)
	}
	return fmt.Sprintf("%.0f %%", 100*p.Wet)
}

func warmerWords(p Place) string {
	switch {
	case p.Known:
		return fmt.Sprintf("%+.1f °C last night watched", p.Warmer)
	case p.Roof:
		return fmt.Sprintf("%+.1f °C, a guess for a roof", p.Warmer)
	}
	return "reference"
}
