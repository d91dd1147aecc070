package sitter

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
)

//go:embed sheet.html
var sheetText string

var sheetPage = template.Must(template.New("sheet").Funcs(template.FuncMap{"pots": potsWords, "visit": visitWords, "next": func(i int) int { return i + 1 }, "upper": upper, "unsure": func() string { return unsure }}).Parse(sheetText))

// HTML writes the sheet as one page to print.
func (s *Sheet) HTML(out io.Writer) error { return sheetPage.Execute(out, s) }

// Text writes the sheet as a message.
func (s *Sheet) Text(out io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", s.Title())
	if len(s.Visits) > 0 {
		var days []string
		for _, v := range s.Visits {
			days = append(days, visitWords(v))
		}
		fmt.Fprintf(&b, "Please come on %s, towards evening or early.\n", strings.Join(days, ", "))
	}
	for _, p := range s.Places {
		fmt.Fprintf(&b, "\n%s, from the first pot to the last:\n", upper(p.Name))
		for i, r := range p.Rows {
			fmt.Fprintf(&b, "%d. %s: %s\n", i+1, potsWords(r.Pots), r.Words())
		}
		if p.Unsure() {
			b.WriteString(unsure + "\n")
		}
		if p.Litres > 0 {
			fmt.Fprintf(&b, "About %.0f litres in all each visit.\n", p.Litres+0.5)
		}
	}
	b.WriteString("\nPlease never:\n")
	for _, n := range s.Never {
		b.WriteString("- " + n + "\n")
	}
	b.WriteString("\nWorth a call")
	if s.Phone != "" {
		b.WriteString(" (" + s.Phone + ")")
	}
	b.WriteString(":\n")
	for _, c := range s.Call {
		b.WriteString("- " + c + "\n")
	}
	b.WriteString("Everything else can wait. Thank you.\n")
	_, err := io.WriteString(out, b.String())
	return err
}

// Words is what to do with a row.
func (r Row) Words() string {
	switch {
	case r.When == Never:
		return "no water, they want to be dry"
	case !r.Sure && r.When == EveryVisit:
		return r.Each + " each, " + string(r.When) + " *"
	}
	return r.Each + " each, " + string(r.When)
}

const unsure = "* Nothing measures these: lift one first, and leave them if it is heavy."

// Unsure reports whether a row carries the star.
func (p Place) Unsure() bool {
	for _, r := range p.Rows {
		if !r.Sure && r.When == EveryVisit {
			return true
		}
	}
	return false
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
