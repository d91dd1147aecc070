package alerts

import (
	"fmt"
	"strings"
)

// sawMost is how many pots a record of what a rule saw spells out.
const sawMost = 12

// saw puts what a rule saw of each pot into words, for the log of messages: "D7: water 17 %, 5.4 °C, limit −3 °C".
func saw(g Group) string {
	var all []string
	for _, it := range g.Items {
		if len(all) == sawMost {
			all = append(all, fmt.Sprintf("and %d more", len(g.Items)-sawMost))
			break
		}
		if s := it.saw(g.St); s != "" {
			all = append(all, it.Subject+": "+s)
		}
	}
	return strings.Join(all, "; ")
}

func (f Finding) saw(st *Standing) string {
	var s []string
	x := f.Facts
	p := st.pot(f.Subject)
	if x.Wet != 0 {
		s = append(s, "water "+percent(x.Wet))
	} else if p != nil && p.WetnessOK {
		s = append(s, "water "+percent(p.Wetness))
	}
	switch {
	case x.Temp != 0:
		s = append(s, st.degrees(x.Temp))
	case p != nil && p.TempAt.Equal(st.At):
		s = append(s, st.degrees(p.Temp))
	}
	if x.Limit != 0 {
		s = append(s, "limit "+st.degrees(x.Limit))
	}
	if p != nil && p.Stage != Closed {
		s = append(s, p.Stage.String())
	}
	if !x.From.IsZero() {
		s = append(s, "since "+st.hour(x.From))
	}
	return strings.Join(s, ", ")
}
