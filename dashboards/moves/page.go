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

var page = template.Must(template.New("moves").Funcs(template.FuncMap{"chance": chanceWords, "wet": wetWords, "warmer": warmerWords, "shows": func(p Pot) string { return p.Stage.Words() }}).Parse(pageText))

// PlaceName is a place's name by its id.
func (w Weighed) PlaceName(id string) string {
	for i := range w.Places {
		if p := &w.Places[i]; p.ID == id && p.Name != "" {
			return p.Name
		}
	}
	return id
}

// HTML writes the table as the inside of a page.
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
		return fmt.Sprintf("%.0f %%, half in about %.0f days", 100*p.Wet, p.ToHalf)
	}
	return fmt.Sprintf("%.0f %%", 100*p.Wet)
}

func warmerWords(p Place) string {
	switch {
	case p.Known && math.Abs(p.Warmer) < 0.05:
		return "the same on the last night watched"
	case p.Known:
		return signed(p.Warmer) + " on the last night watched"
	case p.Roof:
		return signed(p.Warmer) + ", a guess for a roof"
	}
	return "reference"
}
