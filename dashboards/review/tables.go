package review

import (
	"fmt"
	"strconv"
	"strings"

	"lathwatch/sensors/garden"
)

// A Table is a heading, a line of how it was made, and rows.
type Table struct {
	ID, Title, How string
	Head           []string
	Rows           [][]string
	Wide           bool // takes the whole width on paper
}

// Tables are the report's figures, in the order a reader asks.
func (r *Report) Tables() []Table {
	all := []Table{r.winters(), r.placeTable(), r.frostTable(), r.coldTable(), r.rootTable(), r.waterTable(), r.breakTable(), r.saidTable()}
	out := all[:0]
	for _, t := range all {
		if len(t.Rows) > 0 {
			out = append(out, t)
		}
	}
	return out
}

// Lead is the winter in a few sentences.
func (r *Report) Lead() []string {
	w := r.Winter
	var say []string
	for _, p := range r.places() {
		s := fmt.Sprintf("%s: %s under freezing, lowest %s in the night of %s", capital(p.name()), nights(p.FrostNights), w.deg(p.Lowest.V), on(p.Lowest.At))
		if p.LastFrost != 0 {
			s += ", last frost " + on(p.LastFrost)
		}
		s += "."
		if p.WarmSpell != 0 {
			s += fmt.Sprintf(" First warm spell %s, %s.", on(p.WarmSpell), days(p.WarmDays))
		}
		if p.Roof && p.Warmer.N > 0 {
			s += fmt.Sprintf(" On %s it froze in the open and not under the roof, whose lows were %s than the open place's on average.", nights(p.SparedNights), w.warmer(p.Warmer.Mean))
		}
		say = append(say, s)
	}
	if s := r.saidLine(); s != "" {
		say = append(say, s)
	}
	return say
}

// warmer words a difference of temperatures.
func (w *Winter) warmer(c float64) string {
	if c < 0 {
		return w.diff(-c) + " colder"
	}
	return w.diff(c) + " warmer"
}

func signed(s string) string {
	if strings.HasPrefix(s, "−") {
		return s
	}
	return "+" + s
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func (r *Report) saidLine() string {
	yes, no, open := 0, 0, 0
	for _, m := range r.messages() {
		switch m.Good {
		case BorneOut:
			yes++
		case NotBorne:
			no++
		default:
			open++
		}
	}
	if yes+no+open == 0 {
		return "Nothing had to be said all season."
	}
	return fmt.Sprintf("%s: %d borne out by what followed, %d not; of %d nothing on record can tell.", capital(times(yes+no+open, "message")), yes, no, open)
}

// messages are those about the report's place, without the weekly lines.
func (r *Report) messages() []*Message {
	var out []*Message
	for i := range r.Winter.Said {
		m := &r.Winter.Said[i]
		if m.Kind != "digest" && (r.Place == "" || m.Place == "" || m.Place == r.Place) {
			out = append(out, m)
		}
	}
	return out
}

func (r *Report) winters() Table {
	t := Table{ID: "winters", Title: "Beside every winter kept", Wide: true,
		How: "Frosts and lows at the reference place. Warm spell: three or more days with a mean of 8 °C or over, from 1 December (1 June in the south) on. Dates of noses are medians.",
		Head: []string{"Winter", "Frost nights", "Lowest", "Last frost", "First warm spell", "Roof spared", "Enough cold", "Freeze-thaw, most", "Dry pot-days", "Wet pot-days", "Noses", "Flowers",
			"Shoots", "Lost"}}
	all := append(append([]*Winter{}, r.Others...), r.Winter)
	sortSeasons(all)
	for _, w := range all {
		t.Rows = append(t.Rows, w.row())
	}
	return t
}

func (w *Winter) row() []string {
	frost, low, last, warm, spared := "–", "–", "–", "–", "–"
	if p := w.reference(); p != nil {
		frost, low, last, warm = strconv.Itoa(p.FrostNights), w.deg(p.Lowest.V), on(p.LastFrost), on(p.WarmSpell)
	}
	for i := range w.Places {
		if p := &w.Places[i]; p.Roof && p.Warmer.N > 0 {
			spared = strconv.Itoa(p.SparedNights)
			break
		}
	}
	thaw, dry, wet, shoots, lost := 0, 0.0, 0.0, 0, 0
	var enough, noses, flowers []garden.Date
	for i := range w.Pots {
		p := &w.Pots[i]
		thaw, dry, wet, shoots = max(thaw, p.FreezeThaw), dry+p.DryDays, wet+p.WetDays, shoots+p.Shoots
		if p.Lost != "" {
			lost++
		}
		enough, noses, flowers = addDate(enough, p.EnoughOn), addDate(noses, p.Nose), addDate(flowers, p.Flower)
	}
	sh := "–"
	if shoots > 0 {
		sh = strconv.Itoa(shoots)
	}
	return []string{strconv.Itoa(w.Season), frost, low, last, warm, spared, on(median(enough)), strconv.Itoa(thaw), num(dry, 0), num(wet, 0), on(median(noses)), on(median(flowers)), sh, strconv.Itoa(lost)}
}

func (r *Report) placeTable() Table {
	w := r.Winter
	t := Table{ID: "places", Title: "Frost and warmth by place", Wide: true, How: "Nights run from noon to noon and are named by their evening. Degree-days above 5 °C from the season's first day; a range where readings are missing. Mould weather: runs of wet hours over 12 °C long enough for grey mould on another plant (Plant Disease 80, 1996, 160); no figure for these plants is known.",
		Head: []string{"Place", "Frost nights", "First", "Last", "Lowest", "First warm spell", "Degree-days", "Mould weather", "Off the reference", "Observed"}}
	for _, p := range r.places() {
		off := "reference"
		if p.Warmer.N > 0 {
			off = signed(w.diff(p.Warmer.Mean)) + " ± " + num(p.Warmer.Each, 1)
		} else if p != w.reference() {
			off = "–"
		}
		warm := on(p.WarmSpell)
		if p.WarmSpell != 0 {
			warm += ", " + days(p.WarmDays)
		}
		t.Rows = append(t.Rows, []string{p.name(), strconv.Itoa(p.FrostNights), on(p.FirstFrost), on(p.LastFrost), w.deg(p.Lowest.V) + ", " + on(p.Lowest.At), warm,
			between(p.DegreeDays, 0), mouldWords(p), off, num(100*p.Observed, 0) + nbsp + "%"})
	}
	return t
}

func mouldWords(p *Place) string {
	switch {
	case !p.Damp:
		return "–"
	case p.Mouldy == 1:
		return "1 spell"
	}
	return fmt.Sprintf("%d spells", p.Mouldy)
}

func (r *Report) frostTable() Table {
	t := Table{ID: "frost", Title: "Was frost foreseen", Wide: true, How: "What was expected at 21:00 against the night's own minimum. It mattered where pots with opened shoots stood.",
		Head: []string{"Place", "Nights judged", "Frosts", "Foreseen", "Missed", "False", "Off by (rms)", "On average", "Mattered", "Warned then"}}
	for _, p := range r.places() {
		s := r.Winter.Frosts(p.ID)
		if s.Nights == 0 {
			continue
		}
		t.Rows = append(t.Rows, []string{p.name(), strconv.Itoa(s.Nights), strconv.Itoa(s.Frosts), strconv.Itoa(s.Foreseen), strconv.Itoa(s.Unforeseen), strconv.Itoa(s.FalseAlarms),
			r.Winter.diff(s.Error), signed(r.Winter.diff(s.Bias)), strconv.Itoa(s.Mattered), strconv.Itoa(s.Told)})
	}
	return t
}
