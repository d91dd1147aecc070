package ledger

import (
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// Source is what a book is made from.
type Source struct {
	Garden *garden.Garden
	Cal    garden.Calendar
	Notes  []sensors.Note // oldest first, undone ones left out
}

// A Book is every plant's seasons.
type Book struct {
	Cal     garden.Calendar
	Seasons []int  // oldest first
	Plants  []Line // in the garden's order
	Pots    []Pot  // in the garden's order, then those born by division
	Entries []Entry
}

// A Line is one plant over the years.
type Line struct {
	Plant, Name string
	Years       []Year // oldest first; only seasons with anything noted
}

// A Year is one plant's season.
type Year struct {
	Season  int
	Shoots  int  // at the season's end, by the newest counts
	Counted bool // every pot of the plant was counted in the season
	Part    bool // some were
	Flowers int  // as noted with the flower; 0: not noted
	Nose    garden.Date
	Opening garden.Date
	Flower  garden.Date
	Leaf    garden.Date // leaves down before it came up
	Lost    []Loss
	Pots    []string
	Ratio   float64 // to the season before; valid when RatioOK
	RatioOK bool
}

// Doubled reports whether the aim was met: twice the shoots of the year before.
func (y *Year) Doubled() bool { return y.RatioOK && y.Ratio >= 2 }

// A Loss is a pot that died, was given away, or vanished.
type Loss struct {
	At     garden.Date
	Pot    string
	Cause  string
	Shoots int
}

// A Pot is where a plant stands.
type Pot struct {
	ID, Plant, Place, Regime string
	Shoots                   int
	Known                    bool // counted, or worked out from a division
	CountedOn                garden.Date
	Parent                   string
	Children                 []string
	Gone                     garden.Date
	Nose                     garden.Date // newest
	Since                    garden.Date // at its place since; 0: as the garden file has it
}

// An Entry is one line of the shoots' account: what changed a plant's number and by how much.
type Entry struct {
	At    garden.Date
	Plant string
	Pot   string
	Why   Why
	N     int
}

// Why says what an entry is.
type Why string

// The kinds of entry. Divided moves shoots and makes none: the parent's entry and its children's add up to nought once all are
// counted. Fewer is a lower count nobody explained.
const (
	Counted Why = "counted" // the first count of a pot
	More    Why = "more"    // a higher count than before
	Fewer   Why = "fewer"   // a lower one
	Divided Why = "divided" // out of the parent, or into a child
	Lost    Why = "lost"
)

// Line finds a plant's line; nil when it has none.
func (b *Book) Line(plant string) *Line {
	for i := range b.Plants {
		if b.Plants[i].Plant == plant {
			return &b.Plants[i]
		}
	}
	return nil
}

// Year finds a season of a line; nil when nothing is noted of it.
func (l *Line) Year(season int) *Year {
	for i := range l.Years {
		if l.Years[i].Season == season {
			return &l.Years[i]
		}
	}
	return nil
}

func (b *Book) pot(id string) *Pot {
	for i := range b.Pots {
		if b.Pots[i].ID == id {
			return &b.Pots[i]
		}
	}
	return nil
}

// Total is a plant's shoots now: those of its living pots and those still between a divided parent and its uncounted children.
func (b *Book) Total(plant string) int {
	n := 0
	for _, e := range b.Entries {
		if e.Plant == plant {
			n += e.N
		}
	}
	return n
}

// Collection is the whole collection's season.
type Collection struct {
	Season          int
	Shoots, Flowers int
	Plants, Doubled int // plants with a ratio, and those of them that doubled
	Median          float64
	MedianOK        bool
	Lost            int
	InFlower        int // plants whose flowering is dated
}

// Collection sums up a season over all plants.
func (b *Book) Collection(season int) Collection {
	c := Collection{Season: season}
	var ratios []float64
	for i := range b.Plants {
		y := b.Plants[i].Year(season)
		if y == nil {
			continue
		}
		c.Shoots, c.Flowers, c.Lost = c.Shoots+y.Shoots, c.Flowers+y.Flowers, c.Lost+len(y.Lost)
		if y.Flower != 0 {
			c.InFlower++
		}
		if y.RatioOK {
			c.Plants++
			ratios = append(ratios, y.Ratio)
			if y.Doubled() {
				c.Doubled++
			}
		}
	}
	c.Median, c.MedianOK = median(ratios)
	return c
}

func (s Source) date(t time.Time) garden.Date { return s.Cal.DateOf(t) }
