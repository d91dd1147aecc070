package review

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"lathwatch/sensors/garden"
)

// came says of every message what followed.
func (w *Winter) came() {
	for i := range w.Said {
		m := &w.Said[i]
		m.Good = Open
		switch m.Kind {
		case "frost-tonight":
			w.frostCame(m)
		case "water", "water-light", "sitter-water":
			w.waterCame(m)
		case "warm-spell":
			w.noseCame(m, 0, 28, "no nose came in the four weeks after it")
		case "dress-now":
			w.dressCame(m)
		case "move-in":
			w.movedCame(m)
		case "root-cold":
			w.coldCame(m)
		case "digest":
			m.Came = "the weekly line"
		default:
			m.Came = "nothing on record tells"
		}
	}
}

// Night finds a place's night.
func (w *Winter) Night(place string, d garden.Date) *Night {
	for i := range w.Nights {
		if n := &w.Nights[i]; n.Date == d && n.Place == place {
			return n
		}
	}
	return nil
}

// nearFrost is how far above 0 °C a minimum may stay for a warning to count as near: leaves are colder than the air.
const nearFrost = 1000

func (w *Winter) frostCame(m *Message) {
	n := w.Night(m.Place, w.Cal().Night(m.At))
	if n == nil || !n.Whole && n.Min > 0 {
		m.Came = "the night was not watched to its end"
		return
	}
	m.Came = "the night's low was " + w.deg(n.Min)
	switch {
	case n.Min < 0:
		m.Good = BorneOut
	case n.Min <= nearFrost:
		m.Came += ", near enough for leaves"
		m.Good = BorneOut
	default:
		m.Came += ": no frost"
		m.Good = NotBorne
	}
}

// answered is how long after a message a noted watering counts as its answer.
const answered = 4 * 24 * time.Hour

func (w *Winter) waterCame(m *Message) {
	var watered, dried, needless, early, late, waited []string
	for _, s := range m.state {
		p := w.Pot(s.id)
		if p == nil {
			continue
		}
		switch {
		case s.wetOK && s.wet >= s.low:
			early = append(early, s.id)
		case s.lowDays > 0 && s.dryDays > float64(s.lowDays)+2:
			waited = append(waited, s.id)
		case s.lowDays == 0 && s.dryDays > 1.5:
			late = append(late, s.id)
		}
		switch {
		case p.wateredAfter(m.At):
			watered = append(watered, s.id)
		case w.roseAlone(p, m.At, s.low):
			needless = append(needless, s.id)
		default:
			dried = append(dried, s.id)
		}
	}
	var say []string
	add := func(ids []string, what string) {
		if len(ids) > 0 {
			say = append(say, strings.Join(ids, ", ")+" "+what)
		}
	}
	add(watered, "watered")
	add(dried, "not watered and no wetter")
	add(needless, "came up without a watering: the message was not needed")
	add(early, "still over the limit: early")
	add(waited, "dry for longer than asked: late, as no earlier morning was safe")
	add(late, "under the limit for over a day: late")
	m.Came = strings.Join(say, "; ")
	switch {
	case len(m.state) == 0:
		m.Came = "nothing on record tells"
	case len(needless) == len(m.state) || len(early) == len(m.state):
		m.Good = NotBorne
	default:
		m.Good = BorneOut
	}
}

func (p *Pot) wateredAfter(t time.Time) bool {
	for i := range p.Waterings {
		if d := p.Waterings[i].At.Sub(t); d >= 0 && d <= answered {
			return true
		}
	}
	return false
}

// roseAlone reports whether a pot was over its limit again within the answer's time without a noted watering.
func (w *Winter) roseAlone(p *Pot, t time.Time, low int64) bool {
	first := w.Cal().DateOf(t)
	for d := first + 1; d <= first+4; d++ {
		if day := p.day(d); day != nil && day.WetOK && day.WetLow > low+80 {
			return true
		}
	}
	return false
}

// noseCame looks for noses of the pots named within some days.
func (w *Winter) noseCame(m *Message, least, most garden.Date, none string) {
	first := w.Cal().DateOf(m.At)
	var came []string
	for _, id := range m.Pots {
		if p := w.Pot(id); p != nil && p.Nose != 0 && p.Nose >= first+least && p.Nose <= first+most {
			came = append(came, fmt.Sprintf("%s showed its nose %s later", id, days(int(p.Nose-first))))
		}
	}
	if m.Came = strings.Join(came, "; "); len(came) > 0 {
		m.Good = BorneOut
		return
	}
	m.Came, m.Good = none, NotBorne
	if w.Until < first+most {
		m.Good = Open
	}
}

// dressCame measures the days from the message to the noses: two weeks are the aim, one to four are good.
func (w *Winter) dressCame(m *Message) {
	first := w.Cal().DateOf(m.At)
	var say []string
	good, known := 0, 0
	for _, id := range m.Pots {
		p := w.Pot(id)
		if p == nil || p.Nose == 0 {
			say = append(say, id+": no nose yet")
			continue
		}
		known++
		n := int(p.Nose - first)
		switch {
		case n < 0:
			say = append(say, fmt.Sprintf("%s had its nose %s before", id, days(-n)))
		case n < 7:
			say = append(say, fmt.Sprintf("%s showed its nose %s later: late", id, days(n)))
		case n > 28:
			say = append(say, fmt.Sprintf("%s showed its nose %s later: early", id, days(n)))
		default:
			good++
			say = append(say, fmt.Sprintf("%s showed its nose %s later", id, days(n)))
		}
		if p.Dressed == 0 {
			say[len(say)-1] += ", not dressed"
		}
	}
	m.Came = strings.Join(say, "; ")
	switch {
	case known == 0:
	case 2*good >= known:
		m.Good = BorneOut
	default:
		m.Good = NotBorne
	}
}

// movedSoon is how many days after the message a move under a roof counts as its answer.
const movedSoon = 28

func (w *Winter) movedCame(m *Message) {
	first := w.Cal().DateOf(m.At)
	var say []string
	moved := 0
	for _, id := range m.Pots {
		p := w.Pot(id)
		i := -1
		if p != nil {
			i = slices.IndexFunc(p.Moves, func(v Move) bool { return v.At >= first && v.At <= first+movedSoon && w.roofed(v.To) })
		}
		if i < 0 {
			say = append(say, id+" was not moved under a roof in the four weeks after it")
			continue
		}
		moved++
		say = append(say, fmt.Sprintf("%s went in %s later", id, days(int(p.Moves[i].At-first))))
	}
	m.Came = strings.Join(say, "; ")
	if moved > 0 { // not heeding it does not make it wrong
		m.Good = BorneOut
	}
}

func (w *Winter) roofed(place string) bool {
	return slices.ContainsFunc(w.Places, func(p Place) bool { return p.ID == place && p.Roof })
}

func (w *Winter) coldCame(m *Message) {
	first := w.Cal().DateOf(m.At)
	var say []string
	for _, id := range m.Pots {
		p := w.Pot(id)
		if p == nil {
			continue
		}
		low, ok := int64(0), false
		for d := first; d <= first+3; d++ {
			if day := p.day(d); day != nil && day.TempOK && (!ok || day.Min < low) {
				low, ok = day.Min, true
			}
		}
		if ok {
			say = append(say, fmt.Sprintf("%s came down to %s", id, w.deg(low)))
		}
	}
	m.Came = strings.Join(say, "; ")
	if m.Came != "" {
		m.Good = BorneOut
	}
}

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}
