package sheet

import (
	"fmt"
	"io"
	"strings"

	"lathwatch/alerts"
)

// Say words the message that brings the sitter the sheet of the absence that begins.
func Say(g alerts.Group) string {
	var b strings.Builder
	_ = OfAbsence(g.St).Text(&b) // a builder takes everything
	return strings.TrimSuffix(b.String(), "\n")
}

// Text writes the sheet as a message; its first line is its title.
func (s *Sheet) Text(out io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", s.Title())
	if len(s.Visits) > 0 {
		var days []string
		for _, v := range s.Visits {
			days = append(days, VisitWords(v))
		}
		fmt.Fprintf(&b, "Please come on %s, %s.\n", strings.Join(days, ", "), s.Hour)
	}
	for _, p := range s.Places {
		fmt.Fprintf(&b, "\n%s, from the first pot to the last:\n", Upper(p.Name))
		for i, r := range p.Rows {
			fmt.Fprintf(&b, "%d. %s: %s\n", i+1, PotsWords(r.Pots), p.Words(r))
		}
		if p.Unsure() {
			b.WriteString(Unsure + "\n")
		}
		if w := p.InAll(); w != "" {
			b.WriteString(w + "\n")
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
func (p Place) Words(r Row) string {
	each := r.Each + " each"
	if len(r.Pots) == 1 {
		each = r.Each
	} else if r.Litres > 0 {
		each += fmt.Sprintf(" (%s for the row)", p.words(r.Litres))
	}
	switch {
	case r.When == Never:
		return "no water, they want to be dry"
	case !r.Sure && r.When == EveryVisit:
		return each + ", " + string(r.When) + " *"
	}
	return each + ", " + string(r.When)
}

// Amount is what one pot of the row gets, as a note writes it.
func (r Row) Amount() string { return fmt.Sprintf("%.0f mL", r.Litres*1000/float64(len(r.Pots))) }

// Unsure explains the star of a row nobody measures.
const Unsure = "* Nothing measures these: lift one first, and leave them if it is heavy."

// Unsure reports whether a row carries the star.
func (p Place) Unsure() bool {
	for _, r := range p.Rows {
		if !r.Sure && r.When == EveryVisit {
			return true
		}
	}
	return false
}

// InAll says how much to carry to a place for one visit, "" where nothing is watered each time.
func (p Place) InAll() string {
	if p.Litres == 0 {
		return ""
	}
	if p.Ounces {
		return fmt.Sprintf("About %.1f gallons in all each visit.", p.Litres*0.26417+0.05)
	}
	if p.Litres < 1.5 {
		return "About a litre in all each visit."
	}
	return fmt.Sprintf("About %.0f litres in all each visit.", p.Litres+0.5)
}

// Upper begins a line.
func Upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
