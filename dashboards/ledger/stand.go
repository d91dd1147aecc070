package ledger

import (
	"fmt"
	"io"
	"strings"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
)

// A Position is where a pot stands: the n-th at its place in the garden's order, which is the order of the rows outdoors.
type Position struct {
	Place, PlaceName string
	No               int
	Pot, Plant, Name string
	Left, Right      string // neighbours' pots
	Shoots           int
	Known            bool
	Nose, Since      garden.Date
}

// Positions lists living pots place by place.
func (b *Book) Positions(g *garden.Garden) []Position {
	var out []Position
	for i := range g.Places {
		first := len(out)
		for j := range b.Pots {
			p := &b.Pots[j]
			if p.Place != g.Places[i].ID || p.Gone != 0 {
				continue
			}
			pos := Position{Place: p.Place, PlaceName: g.Places[i].Name, No: len(out) - first + 1, Pot: p.ID, Plant: p.Plant, Shoots: p.Shoots, Known: p.Known, Nose: p.Nose, Since: p.Since}
			if plant := g.Plant(p.Plant); plant != nil {
				pos.Name = plant.Name
			}
			if n := len(out); n > first {
				pos.Left = out[n-1].Pot
				out[n-1].Right = p.ID
			}
			out = append(out, pos)
		}
	}
	return out
}

// Named tells what stood at a position: when a label is lost, the place, the number and the neighbours name the plant.
func Named(all []Position, place string, no int) (Position, bool) {
	for _, p := range all {
		if p.Place == place && p.No == no {
			return p, true
		}
	}
	return Position{}, false
}

// Between tells what stood between two neighbours.
func Between(all []Position, left, right string) (Position, bool) {
	for _, p := range all {
		if p.Left == left && p.Right == right {
			return p, true
		}
	}
	return Position{}, false
}

// WriteList writes the list to take along before repotting, one line a pot, for paper.
func (b *Book) WriteList(out io.Writer, g *garden.Garden) error {
	all := b.Positions(g)
	place := ""
	var s strings.Builder
	s.WriteString("Before repotting: where each plant stands. Write each id twice, once on the label's buried end.\n")
	for _, p := range all {
		if p.Place != place {
			place = p.Place
			name := p.PlaceName
			if name == "" {
				name = p.Place
			}
			fmt.Fprintf(&s, "\n%s\n  no  pot       plant                 shoots  last nose   counted now\n", strings.ToUpper(name[:1])+name[1:])
		}
		shoots, nose, name := "?", "-", p.Name
		if p.Known {
			shoots = fmt.Sprint(p.Shoots)
		}
		if p.Nose != 0 {
			nose = p.Nose.String()
		}
		if name == "" {
			name = p.Plant
		}
		fmt.Fprintf(&s, "%4d  %-8s  %-20s  %6s  %-10s  ________\n", p.No, p.Pot, name, shoots, nose)
	}
	_, err := io.WriteString(out, s.String())
	return err
}

// Overdue lists the pots past the late end of their window with no nose noted, and what to do: wait.
func Overdue(st *alerts.Standing) []string {
	var out []string
	for i := range st.Pots {
		p := &st.Pots[i]
		if !p.Overdue || !p.Gone.IsZero() {
			continue
		}
		why := "it is past the late end of its window (a guess)"
		if p.Cold == alerts.NotYet {
			why = "its rest was short, and a bud may wait a year"
		}
		out = append(out, fmt.Sprintf("%s: wait, and dig with a finger for the bud; %s. Keep it just moist, less than growing ones. Late is not dead.", p.Pot.ID, why))
	}
	return out
}
