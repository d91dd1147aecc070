package ledger

import (
	"slices"

	"lathwatch/sensors/garden"
)

// A division is a divided pot whose shoots are not all counted in its children yet. It makes none and loses none.
type division struct {
	parent string
	left   int      // shoots not found in a child yet
	open   []string // pots of it that are not counted
}

// count notes a pot's shoots.
func (k *keeper) count(p *Pot, at garden.Date, n int) {
	if p.Gone != 0 {
		return
	}
	k.seen[p.ID] = true
	k.line(p.Plant)
	d := k.under[p.ID]
	switch {
	case d != nil:
		take := min(n, d.left)
		k.hand(d, p, at, take)
		k.change(p, at, n-take) // what it has beyond that has grown since
	case p.Known:
		k.change(p, at, n-p.Shoots)
	default:
		k.write(p, at, Counted, n)
	}
	p.Shoots, p.Known, p.CountedOn = n, true, at
	if d != nil {
		k.leave(d, p.ID, at)
	}
}

func (k *keeper) change(p *Pot, at garden.Date, d int) {
	switch {
	case d > 0:
		k.write(p, at, More, d)
	case d < 0:
		k.write(p, at, Fewer, d)
	}
}

// hand gives a pot of a division its shoots out of the parent's.
func (k *keeper) hand(d *division, p *Pot, at garden.Date, n int) {
	d.left -= n
	if p.ID != d.parent {
		k.write(p, at, Divided, n)
		k.write(k.book.pot(d.parent), at, Divided, -n)
	}
}

// leave takes a pot off a division's open list. The last one open has the rest; when none is open, what was not found is fewer.
func (k *keeper) leave(d *division, id string, at garden.Date) {
	delete(k.under, id)
	d.open = slices.DeleteFunc(d.open, func(o string) bool { return o == id })
	switch {
	case len(d.open) == 0:
		k.change(k.book.pot(d.parent), at, -d.left)
		d.left = 0
	case len(d.open) == 1 && d.left > 0:
		last := k.book.pot(d.open[0])
		rest := d.left
		k.hand(d, last, at, rest)
		last.Shoots, last.Known, last.CountedOn = rest, true, at
		k.seen[last.ID] = true
		delete(k.under, last.ID)
		d.open = nil
	}
}

// divide ends a pot and begins its children; an id that is the parent's own lives on. The shoots stay on the parent's account
// until the pots are counted.
func (k *keeper) divide(p *Pot, at garden.Date, ids []string) {
	if p.Gone != 0 {
		return
	}
	was := *p
	stays := slices.Contains(ids, was.ID)
	var children []string
	for _, id := range ids {
		if k.book.pot(id) == nil { // a pot that lives already, or lived, is a slip of the pen
			children = append(children, id)
		}
	}
	if len(children) == 0 {
		return
	}
	p.Children = append(p.Children, children...)
	if !stays {
		p.Gone = at
	}
	p.Shoots = 0
	for _, id := range children {
		k.book.Pots = append(k.book.Pots, Pot{ID: id, Plant: was.Plant, Place: was.Place, Regime: was.Regime, Parent: was.ID, Since: at})
	}
	open := slices.Clone(children)
	if stays {
		k.book.pot(was.ID).Known = false
		open = append(open, was.ID)
	}
	k.share(&was, open)
}

// share opens a division, or puts the pots in the place of an uncounted one in the division it came of.
func (k *keeper) share(was *Pot, open []string) {
	d := k.under[was.ID]
	switch {
	case d != nil:
		d.open = append(slices.DeleteFunc(d.open, func(o string) bool { return o == was.ID }), open...)
		delete(k.under, was.ID)
	case was.Known:
		d = &division{parent: was.ID, left: was.Shoots, open: open}
	default:
		return // nothing was counted that could be shared
	}
	for _, id := range open {
		k.under[id] = d
	}
}

// lose ends a pot with its shoots.
func (k *keeper) lose(p *Pot, at garden.Date, cause string) {
	if p.Gone != 0 {
		return
	}
	k.write(p, at, Lost, -p.Shoots)
	y := k.line(p.Plant).year(k.season)
	y.Lost = append(y.Lost, Loss{At: at, Pot: p.ID, Cause: cause, Shoots: p.Shoots})
	p.Gone, p.Shoots = at, 0
	k.seen[p.ID] = true
	if d := k.under[p.ID]; d != nil {
		k.leave(d, p.ID, at)
	}
}

func (k *keeper) finish() {
	for i := range k.book.Plants {
		l := &k.book.Plants[i]
		for j := range l.Years {
			y := &l.Years[j]
			if !slices.Contains(k.book.Seasons, y.Season) {
				k.book.Seasons = append(k.book.Seasons, y.Season)
			}
			if before := l.Year(y.Season - 1); before != nil && before.Counted && before.Shoots > 0 && y.Counted {
				y.Ratio, y.RatioOK = float64(y.Shoots)/float64(before.Shoots), true
			}
		}
	}
	slices.Sort(k.book.Seasons)
}
