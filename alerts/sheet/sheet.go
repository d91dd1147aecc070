package sheet

import (
	"fmt"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
)

// Ask is what a sheet is wanted for.
type Ask struct {
	From, Until garden.Date   // away, both days included
	Visits      []garden.Date // none: those the garden's own file agrees with the sitter
	Phone       string        // whom to call; "": the garden file's own
}

// A Sheet is what is printed.
type Sheet struct {
	Site        string
	From, Until garden.Date
	Visits      []garden.Date
	Places      []Place
	Never       []string
	Call        []string // three
	Hour        string   // when to come, in words
	Phone       string   // "" leaves a line to fill in
	Ounces      bool     // fluid ounces and °F
	Cold        bool     // frost may come in the span
}

// A Place is walked from its first row to its last.
type Place struct {
	Name   string
	Rows   []Row
	Litres float64 // for all pots of one visit on which all are watered
	Ounces bool
}

// A Row is neighbouring pots that are treated alike.
type Row struct {
	Pots   []string
	Each   string  // how much a pot
	Litres float64 // for the row, when all its pots are watered
	When   When
	Sure   bool // somebody measured one of them, or one that dries like it
}

// When says on which visits a row is watered.
type When string

// When to water.
const (
	EveryVisit When = "every visit"
	IfLight    When = "only if it feels light when you lift it"
	Never      When = "not at all"
)

// Make makes the sheet from what is known now.
func Make(st *alerts.Standing, a Ask) *Sheet {
	agreed := st.Garden.Sitter
	s := &Sheet{Site: st.Garden.Site.Name, From: a.From, Until: a.Until, Visits: a.Visits, Hour: hourWords(agreed.Hour), Phone: a.Phone, Ounces: st.Garden.Site.Fahrenheit, Cold: cold(st, a)}
	if len(s.Visits) == 0 {
		s.Visits = agreed.Visits(a.From, a.Until)
	}
	if s.Phone == "" {
		s.Phone = agreed.Phone
	}
	if s.Site == "" {
		s.Site = st.Garden.Site.ID
	}
	gap := longestGap(s.Visits, a)
	for i := range st.Garden.Places {
		p := &st.Garden.Places[i]
		sp := Place{Name: p.Name, Ounces: s.Ounces}
		if sp.Name == "" {
			sp.Name = p.ID
		}
		for j := range st.Pots {
			ps := &st.Pots[j]
			if ps.Place == p.ID && ps.Gone.IsZero() {
				sp.add(st, ps, gap)
			}
		}
		if len(sp.Rows) > 0 {
			s.Places = append(s.Places, sp)
		}
	}
	s.words()
	return s
}

// Absence is the ask for the absence on record.
func Absence(st *alerts.Standing) Ask {
	return Ask{From: st.Cal.DateOf(st.Away.Since), Until: st.Cal.DateOf(st.Away.Until.Add(-time.Second))}
}

// OfAbsence is the sheet of the absence on record.
func OfAbsence(st *alerts.Standing) *Sheet { return Make(st, Absence(st)) }

// hourWords says when on the day the sitter comes.
func hourWords(h time.Duration) string {
	switch {
	case h < 10*time.Hour:
		return "early in the morning"
	case h < 16*time.Hour:
		return "in the day, better not in the full sun"
	}
	return "towards evening"
}

// longestGap is the most days a pot must do without: from leaving to the first visit, between visits, from the last to the return.
func longestGap(visits []garden.Date, a Ask) int {
	most, last := garden.Date(0), a.From
	for _, v := range append(append([]garden.Date{}, visits...), a.Until) {
		most = max(most, v-last)
		last = v
	}
	return int(most)
}

// cold reports whether frost belongs to the season of the span: 1 October to 31 May, shifted in the south.
func cold(st *alerts.Standing, a Ask) bool {
	for d := a.From; d <= a.Until; d++ {
		if n := st.Cal.SeasonDay(d); n >= 30 && n <= 272 {
			return true
		}
	}
	return false
}

// add puts a pot behind the place's last one, in its row when it is treated alike.
func (p *Place) add(st *alerts.Standing, ps *alerts.PotStanding, gap int) {
	when, sure := whenOf(st, ps, gap)
	litres := amount(ps)
	each := p.words(litres)
	switch when {
	case EveryVisit:
		p.Litres += litres
	case Never:
		litres, each = 0, "none"
	}
	if n := len(p.Rows); n > 0 && p.Rows[n-1].Each == each && p.Rows[n-1].When == when && p.Rows[n-1].Sure == sure {
		p.Rows[n-1].Pots = append(p.Rows[n-1].Pots, ps.Pot.ID)
		p.Rows[n-1].Litres += litres
		return
	}
	p.Rows = append(p.Rows, Row{Pots: []string{ps.Pot.ID}, Each: each, Litres: litres, When: when, Sure: sure})
}

// whenOf asks how long the pot's water lasts from a full watering, or from now where it is at rest.
func whenOf(st *alerts.Standing, ps *alerts.PotStanding, gap int) (When, bool) {
	teller, own := tells(st, ps)
	sure := teller != nil
	if ps.Phase == garden.Rest {
		if ps.Regime != nil && ps.Regime.Rest.Low == 0 {
			return Never, true // it wants to be dry
		}
		return IfLight, sure
	}
	if teller == nil || !teller.DaysLeft.OK || teller.Regime == nil {
		return EveryVisit, sure // watered so lately that its days are not known yet: it is measured all the same
	}
	// From drained-full to the limit takes longer than from where it is now; a pot that does not last the longest gap from now, or was
	// not watered long ago, is watered each time.
	if teller.DaysLeft.Low > float64(2*gap) && own {
		return IfLight, true
	}
	return EveryVisit, true
}

// tells finds who speaks for a pot: its own probe, or a pot that lists it among those that dry like it.
func tells(st *alerts.Standing, ps *alerts.PotStanding) (teller *alerts.PotStanding, own bool) {
	if ps.WetnessOK {
		return ps, true
	}
	for i := range st.Pots {
		o := &st.Pots[i]
		for _, list := range [][]string{o.Pot.Relatives, o.Pot.Faster} {
			for _, id := range list {
				if id == ps.Pot.ID && o.WetnessOK {
					return o, false
				}
			}
		}
	}
	return nil, false
}

// amount is a watering in litres, to the nearest tenth: from the limit of its row to the target; drained-full is taken as 0.34 of the
// pot's volume, the middle of what mineral mixes hold (a working value).
func amount(ps *alerts.PotStanding) float64 {
	litres := ps.Pot.Litres.Litres()
	if litres == 0 {
		litres = 3
	}
	share := 0.4
	if ps.Regime != nil {
		cell := ps.Regime.Cell(ps.Phase)
		share = float64(cell.Target-cell.Low) / 1000
	}
	tenths := int(litres*0.34*share*10 + 0.5)
	return float64(max(tenths, 1)) / 10
}

// words gives an amount as the site reads it.
func (p Place) words(l float64) string {
	if p.Ounces {
		return fmt.Sprintf("%.0f fl oz", l*33.814)
	}
	return fmt.Sprintf("%.1f litres", l)
}

func (s *Sheet) words() {
	hot := "It is to be over 30 °C for two days, or water cannot be had."
	if s.Ounces {
		hot = "It is to be over 86 °F for two days, or water cannot be had."
	}
	s.Never = []string{"Never feed them.", "Do not move a pot: each stands where it stands for a reason.", "Leave the saucers and covers as they are.", "Do not repot, pull at leaves or dig."}
	s.Call = []string{"A whole row hangs limp although it was watered.", hot, "A pot has fallen, or something was at the shoots."}
	if s.Cold {
		s.Never = append(s.Never, "Never water a pot that is frozen hard, nor with frost to come that night.")
		s.Call[1] = "Frost is to come and leaves are out, or water cannot be had."
	}
	s.Never = append(s.Never, "Keep water off the cables and the box, and do not touch them when they are wet.")
}

// Title is the sheet's heading.
func (s *Sheet) Title() string {
	return fmt.Sprintf("Looking after the pots at %s, %s to %s", s.Site, dayWords(s.From), dayWords(s.Until))
}

func dayWords(d garden.Date) string {
	return time.Unix(int64(d)*86_400, 0).UTC().Format("2 January")
}

// VisitWords names a day of the sheet.
func VisitWords(d garden.Date) string {
	return time.Unix(int64(d)*86_400, 0).UTC().Format("Mon 2 Jan")
}

// PotsWords names a row's pots: a few one by one, many by their ends.
func PotsWords(ids []string) string {
	if len(ids) > 6 {
		return fmt.Sprintf("%s to %s (%d pots)", ids[0], ids[len(ids)-1], len(ids))
	}
	return strings.Join(ids, ", ")
}
