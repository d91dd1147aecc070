package review

import (
	"fmt"
	"strconv"
	"strings"

	"lathwatch/sensors/garden"
)

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
	t := Table{ID: "roots", Title: "Roots", How: "At the pot's own thermometer; days frozen as far as the reading tells. Pots without a thermometer are left out. Water that froze: the most, by how long the pot was held at 0 °C in the cold it stood in; rough, a check on its moisture probe.",
		Head: []string{"Pot", "Coldest", "Hottest", "Over 25 °C", "Frozen", "Freeze-thaw", "Water that froze"}}
	for _, p := range r.pots() {
		if !p.Own {
			continue
		}
		t.Rows = append(t.Rows, []string{p.ID, w.deg(p.Coldest.V) + ", " + on(p.Coldest.At), w.deg(p.Hottest.V) + ", " + on(p.Hottest.At), num(p.Over25, 0) + nbsp + "h",
			num(p.FrozenDays, 0) + nbsp + "d", strconv.Itoa(p.FreezeThaw), frozeWords(p)})
	}
	return t
}

func frozeWords(p *Pot) string {
	if p.Froze.At == 0 {
		return "–"
	}
	return "about " + num(p.Froze.V, 1) + nbsp + "L, " + on(p.Froze.At)
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
		t.Rows = append(t.Rows, []string{m.At.In(zone).Format("2 Jan 15:04"), strings.ReplaceAll(m.Kind, "-", " "), strings.Join(m.Pots, ", "), m.Came, string(m.Good)})
	}
	return t
}
