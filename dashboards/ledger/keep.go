package ledger

import (
	"slices"
	"strconv"
	"strings"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// Keep makes the book.
func Keep(s Source) *Book {
	k := keeper{src: s, book: &Book{Cal: s.Cal}, under: map[string]*division{}}
	for i := range s.Garden.Pots {
		p := &s.Garden.Pots[i]
		if !k.bornLater(p.ID) {
			k.book.Pots = append(k.book.Pots, Pot{ID: p.ID, Plant: p.Plant, Place: p.Place, Regime: k.regimeOf(p)})
		}
	}
	for i := range s.Garden.Plants {
		p := &s.Garden.Plants[i]
		k.book.Plants = append(k.book.Plants, Line{Plant: p.ID, Name: p.Name})
	}
	for i := range s.Notes {
		k.turn(s.Cal.Season(s.date(s.Notes[i].At)))
		k.note(&s.Notes[i])
	}
	k.turn(0)
	k.finish()
	return k.book
}

// A keeper writes the book note by note.
type keeper struct {
	src    Source
	book   *Book
	season int                  // being written
	under  map[string]*division // by pots that are not counted since a division
	seen   map[string]bool      // pots counted in the season
}

// bornLater reports whether a pot of the garden file is noted as the child of another: it begins with that note.
func (k *keeper) bornLater(id string) bool {
	for i := range k.src.Notes {
		n := &k.src.Notes[i]
		if n.What == sensors.Divided && n.Subject != id && slices.Contains(strings.Fields(n.Detail), id) {
			return true
		}
	}
	return false
}

func (k *keeper) regimeOf(p *garden.Pot) string {
	if p.Regime != "" {
		return p.Regime
	}
	if plant := k.src.Garden.Plant(p.Plant); plant != nil {
		return plant.Regime
	}
	return ""
}

// turn closes the season being written when another one begins.
func (k *keeper) turn(season int) {
	if season == k.season {
		return
	}
	if k.season != 0 {
		for i := range k.book.Plants {
			k.close(&k.book.Plants[i])
		}
	}
	k.season, k.seen = season, map[string]bool{}
}

// close writes the shoots a plant had at the season's end.
func (k *keeper) close(l *Line) {
	total, counted, pots, any := 0, 0, 0, false
	for i := range k.book.Pots {
		p := &k.book.Pots[i]
		if p.Plant != l.Plant {
			continue
		}
		any = any || k.seen[p.ID]
		if p.Gone != 0 {
			continue
		}
		pots++
		if k.seen[p.ID] {
			counted++
		}
	}
	total = k.book.Total(l.Plant)
	if y := l.Year(k.season); y != nil || any {
		y = l.year(k.season)
		y.Shoots = total
		y.Counted = pots > 0 && counted == pots || pots == 0 && any
		y.Part = any && !y.Counted
		y.Pots = nil
		for i := range k.book.Pots {
			if p := &k.book.Pots[i]; p.Plant == l.Plant && p.Gone == 0 {
				y.Pots = append(y.Pots, p.ID)
			}
		}
	}
}

// year finds or begins a season of a line.
func (l *Line) year(season int) *Year {
	if y := l.Year(season); y != nil {
		return y
	}
	l.Years = append(l.Years, Year{Season: season})
	return &l.Years[len(l.Years)-1]
}

// subjects are the living pots a note means.
func (k *keeper) subjects(subject string) []*Pot {
	if p := k.book.pot(subject); p != nil {
		return []*Pot{p}
	}
	regime, all := strings.CutPrefix(subject, "all:")
	var out []*Pot
	for i := range k.book.Pots {
		p := &k.book.Pots[i]
		if p.Gone == 0 && (all && p.Regime == regime || !all && (p.Plant == subject || p.Place == subject)) {
			out = append(out, p)
		}
	}
	return out
}

func (k *keeper) note(n *sensors.Note) {
	at := k.src.date(n.At)
	pots := k.subjects(n.Subject)
	if n.What == sensors.Shoots && len(pots) > 1 && k.book.pot(n.Subject) == nil {
		k.wholePlant(n, at, pots)
		return
	}
	for _, p := range pots {
		k.potNote(n, at, p)
	}
}

// wholePlant shares a count of a plant that stands in several pots out among them as they stood, so that the sum is the count.
func (k *keeper) wholePlant(n *sensors.Note, at garden.Date, pots []*Pot) {
	count, err := strconv.Atoi(n.Detail)
	if err != nil || k.src.Garden.Plant(n.Subject) == nil {
		return
	}
	was := 0
	for _, p := range pots {
		was += p.Shoots
	}
	left := count
	for i, p := range pots {
		share := count / len(pots)
		if was > 0 {
			share = count * p.Shoots / was
		}
		if i == len(pots)-1 {
			share = left
		}
		left -= share
		k.count(p, at, share)
	}
}

func (k *keeper) potNote(n *sensors.Note, at garden.Date, p *Pot) {
	l := k.line(p.Plant)
	set := func(d *garden.Date) {
		if *d == 0 {
			*d = at
		}
	}
	switch n.What {
	case sensors.Shoots:
		if count, err := strconv.Atoi(n.Detail); err == nil {
			k.count(p, at, count)
		}
	case sensors.Divided:
		k.divide(p, at, strings.Fields(n.Detail))
	case sensors.Lost:
		k.lose(p, at, n.Detail)
	case sensors.Moved:
		p.Place, p.Since = n.Detail, at
	case sensors.Regime:
		p.Regime = n.Detail
	case sensors.Nose:
		p.Nose = at
		set(&l.year(k.season).Nose)
	case sensors.Opening, sensors.Open:
		set(&l.year(k.season).Opening)
	case sensors.Flower:
		y := l.year(k.season)
		set(&y.Flower)
		if f := firstNumber(n.Detail); f > 0 {
			y.Flowers += f
		}
	case sensors.LeafDown:
		set(&l.year(k.season).Leaf)
	}
}

// firstNumber reads "3", "3 flowers" or "flowers: 3"; 0 when there is none.
func firstNumber(s string) int {
	for _, w := range strings.FieldsFunc(s, func(r rune) bool { return r < '0' || r > '9' }) {
		if n, err := strconv.Atoi(w); err == nil && n < 1000 {
			return n
		}
	}
	return 0
}

func (k *keeper) line(plant string) *Line {
	if l := k.book.Line(plant); l != nil {
		return l
	}
	k.book.Plants = append(k.book.Plants, Line{Plant: plant})
	return &k.book.Plants[len(k.book.Plants)-1]
}

func (k *keeper) write(p *Pot, at garden.Date, why Why, n int) {
	if n != 0 || why == Counted {
		k.book.Entries = append(k.book.Entries, Entry{At: at, Plant: p.Plant, Pot: p.ID, Why: why, N: n})
	}
}
