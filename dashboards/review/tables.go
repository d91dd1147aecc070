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
		s := fmt.Sprintf("%s: %s under freezing, lowest %s on %s, last frost %s.", capital(p.name()), nights(p.FrostNights), w.deg(p.Lowest.V), on(p.Lowest.At), on(p.LastFrost))
		if p.WarmSpell != 0 {
			s += fmt.Sprintf(" First warm spell %s, %s.", on(p.WarmSpell), days(p.WarmDays))
		}
		if p.Roof && p.Warmer.N > 0 {
			s += fmt.Sprintf(" On %s it froze in the open and not under the roof, whose lows lay %s off the open place's on average.", nights(p.SparedNights), signed(w.diff(p.Warmer.Mean)))
		}
		say = append(say, s)
	}
	if s := r.saidLine(); s != "" {
		say = append(say, s)
	}
	return say
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
	return fmt.Sprintf("%s: %d borne out by what followed, %d not, %d that nothing on record can tell.", capital(times(yes+no+open, "message")), yes, no, open)
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
	t := Table{ID: "places", Title: "Frost and warmth by place", Wide: true, How: "Nights run from noon to noon and are named by their evening. Degree-days above 5 °C from the season's first day; a range where readings are missing.",
		Head: []string{"Place", "Frost nights", "First", "Last", "Lowest", "First warm spell", "Degree-days", "Off the reference", "Observed"}}
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
			between(p.DegreeDays, 0), off, num(100*p.Observed, 0) + nbsp + "%"})
	}
	return t
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

func (r *Report) coldTable() Table {
	t := Table{ID: "cold-dates", Title: "Cold account", How: "Credit days at the nose, or at the end: one for a day with a mean of 5 °C or colder, none from 8 °C. The bounds of 60 and 90 are a guess.",
		Head: []string{"Pot", "Began", "Enough", "Plenty", "Credit", "Temperature of"}}
	for _, p := range r.pots() {
		if p.ColdStart == 0 {
			continue
		}
		of := "the air"
		if p.Own {
			of = "the pot"
		}
		t.Rows = append(t.Rows, []string{p.ID, on(p.ColdStart), on(p.EnoughOn), on(p.PlentyOn), between(p.Credit, 0), of})
	}
	return t
}

func (r *Report) rootTable() Table {
	w := r.Winter
	t := Table{ID: "roots", Title: "Roots", How: "At the pot's own thermometer; days frozen as far as the reading tells. Pots without a thermometer are left out.",
		Head: []string{"Pot", "Coldest", "Hottest", "Over 25 °C", "Frozen", "Freeze-thaw"}}
	for _, p := range r.pots() {
		if !p.Own {
			continue
		}
		t.Rows = append(t.Rows, []string{p.ID, w.deg(p.Coldest.V) + ", " + on(p.Coldest.At), w.deg(p.Hottest.V) + ", " + on(p.Hottest.At), num(p.Over25, 0) + nbsp + "h",
			num(p.FrozenDays, 0) + nbsp + "d", strconv.Itoa(p.FreezeThaw)})
	}
	return t
}

func (r *Report) waterTable() Table {
	t := Table{ID: "water", Title: "Water against need", How: "Days count while the reading may be judged (thawed, marked). A watering is late two days after its row asked for it, and not needed over the middle between limit and target. Limits are a guess.",
		Head: []string{"Pot", "Judged", "Dry at rest", "Dry in growth", "Too wet at rest", "Waterings", "Amount", "Of these"}}
	for _, p := range r.pots() {
		if p.JudgedDays == 0 && len(p.Waterings) == 0 {
			continue
		}
		sum := int64(0)
		var judged []string
		for _, word := range []string{WaterNeeded, WaterInTime, WaterLate, WaterEarly, WaterNeedless, WaterFrozen, WaterUnknown} {
			n := 0
			for _, w := range p.Waterings {
				if w.Judged == word {
					n++
				}
			}
			if n > 0 {
				judged = append(judged, fmt.Sprintf("%d %s", n, word))
			}
		}
		for _, w := range p.Waterings {
			sum += w.ML
		}
		wet := "–"
		if p.Regime != "wet-winter" {
			wet = num(p.WetDays, 0) + nbsp + "d"
		}
		t.Rows = append(t.Rows, []string{p.ID, num(p.JudgedDays, 0) + nbsp + "d", num(p.DryDays, 0) + nbsp + "d", num(p.DryGrowth, 0) + nbsp + "d", wet, strconv.Itoa(len(p.Waterings)), fmt.Sprintf("%.1f\u00a0L", float64(sum)/1000), strings.Join(judged, ", ")})
	}
	return t
}

func (r *Report) breakTable() Table {
	t := Table{ID: "noses", Title: "Expected and come", Wide: true, How: "First told: the window on the day the cold was enough. A fortnight before: the window two weeks before the nose, when granules are due. Windows are the middle three fifths of what may be.",
		Head: []string{"Pot", "First told", "A fortnight before", "Nose", "Against it", "Warmth to it", "Flower", "Dressed", "Shoots"}}
	for _, p := range r.pots() {
		first, fort := p.firstWindow(), p.windowOn(p.Nose-14)
		if first == nil && p.Nose == 0 {
			continue
		}
		sh := "–"
		if p.Shoots > 0 {
			sh = strconv.Itoa(p.Shoots)
		}
		t.Rows = append(t.Rows, []string{p.ID, windowWords(first), windowWords(fort), on(p.Nose), against(fort, p.Nose), forcingWords(p), on(p.Flower), on(p.Dressed), sh})
	}
	return t
}

func forcingWords(p *Pot) string {
	if p.Nose == 0 || p.Forcing == ([2]float64{}) {
		return "–"
	}
	return between(p.Forcing, 0) + nbsp + "°C·d"
}

func (p *Pot) firstWindow() *PotDay {
	for i := range p.Days {
		if p.Days[i].Early != 0 {
			return &p.Days[i]
		}
	}
	return nil
}

func (p *Pot) windowOn(d garden.Date) *PotDay {
	if day := p.day(d); p.Nose != 0 && day != nil && day.Early != 0 {
		return day
	}
	return nil
}

func windowWords(d *PotDay) string {
	switch {
	case d == nil:
		return "–"
	case d.Late == 0:
		return "from " + on(d.Early)
	}
	return on(d.Early) + " to " + on(d.Late)
}

// against says how a nose fell to its window.
func against(d *PotDay, nose garden.Date) string {
	switch {
	case nose == 0:
		return "no nose noted"
	case d == nil:
		return "not told"
	case nose < d.Early:
		return days(int(d.Early-nose)) + " before it"
	case d.Late != 0 && nose > d.Late:
		return days(int(nose-d.Late)) + " after it"
	}
	return "inside"
}

func (r *Report) saidTable() Table {
	t := Table{ID: "said", Title: "What was said and what came of it", Wide: true, Head: []string{"When", "About", "Pots", "What came of it", "Borne out"}}
	zone := r.Winter.Cal().Zone
	for _, m := range r.messages() {
		t.Rows = append(t.Rows, []string{m.At.In(zone).Format("2 Jan 15:04"), m.Kind, strings.Join(m.Pots, ", "), m.Came, string(m.Good)})
	}
	return t
}
