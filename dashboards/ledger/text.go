package ledger

import (
	"fmt"
	"io"
	"strings"

	"lathwatch/sensors/garden"
)

// WriteSeason writes a season of the collection as text: a line a plant, then the whole.
func (b *Book) WriteSeason(out io.Writer, season int) error {
	var s strings.Builder
	fmt.Fprintf(&s, "Season %d\n%-24s %6s  %5s  %7s  %-10s  %-10s  %-10s  %s\n", season, "plant", "shoots", "ratio", "flowers", "nose", "opening", "flower", "lost")
	for i := range b.Plants {
		y := b.Plants[i].Year(season)
		if y == nil {
			continue
		}
		name := b.Plants[i].Name
		if name == "" {
			name = b.Plants[i].Plant
		}
		fmt.Fprintf(&s, "%-24s %6s  %5s  %7s  %-10s  %-10s  %-10s  %s\n", name, y.ShootsWords(), y.RatioWords(), dash(y.Flowers), dateOr(y.Nose), dateOr(y.Opening), dateOr(y.Flower), y.LossWords())
	}
	fmt.Fprintf(&s, "%s\n", b.Collection(season))
	_, err := io.WriteString(out, s.String())
	return err
}

// String is the collection's season in a sentence or two.
func (c Collection) String() string {
	s := fmt.Sprintf("%d %s in all, %d %s.", c.Shoots, plural(c.Shoots, "shoot"), c.Flowers, plural(c.Flowers, "flower"))
	if c.Shoots == 0 && c.Flowers == 0 {
		s = "No shoot and no flower is counted yet."
		if c.InFlower > 0 {
			s = fmt.Sprintf("No shoot and no flower is counted yet; %d %s noted in flower.", c.InFlower, map[bool]string{true: "plant is", false: "plants are"}[c.InFlower == 1])
		}
	}
	if c.MedianOK {
		s += fmt.Sprintf(" Median ratio %.1f; %d of %d plants doubled (doubling is the aim).", c.Median, c.Doubled, c.Plants)
	} else {
		s += " No plant was counted whole in this season and the one before: nothing can be said of doubling."
	}
	if c.Lost > 0 {
		s += fmt.Sprintf(" Lost: %d.", c.Lost)
	}
	return s
}

// ShootsWords writes the count; a question mark means that not every pot was counted.
func (y *Year) ShootsWords() string {
	switch {
	case y.Counted:
		return fmt.Sprint(y.Shoots)
	case y.Part:
		return fmt.Sprintf("%d?", y.Shoots)
	}
	return "–"
}

// RatioWords writes the ratio to the season before.
func (y *Year) RatioWords() string {
	if !y.RatioOK {
		return "–"
	}
	return fmt.Sprintf("×%.1f", y.Ratio)
}

// LossWords names the pots lost with their cause.
func (y *Year) LossWords() string {
	var all []string
	for _, l := range y.Lost {
		cause := l.Cause
		if cause == "" {
			cause = "no cause noted"
		}
		all = append(all, l.Pot+": "+cause)
	}
	return strings.Join(all, "; ")
}

func plural(n int, one string) string {
	if n == 1 {
		return one
	}
	return one + "s"
}

func dash(n int) string {
	if n == 0 {
		return "–"
	}
	return fmt.Sprint(n)
}

func dateOr(d garden.Date) string {
	if d == 0 {
		return "–"
	}
	return d.String()
}

// noise is the chance from which a difference is called one that shuffling gives too.
const noise = 0.2

// WriteDifferences writes what differed for plants that did not double, the greatest first.
func WriteDifferences(out io.Writer, ds []Difference) error {
	var s strings.Builder
	if len(ds) == 0 {
		fmt.Fprintf(&s, "Too little is on record to compare: at least %d plants that doubled and %d that did not are needed, counted whole in two seasons running.\n", leastGroup, leastGroup)
		_, err := io.WriteString(out, s.String())
		return err
	}
	s.WriteString("What differed for plants that did not double. A difference is no cause.\n")
	for _, d := range ds {
		more := "more"
		if d.Effect < 0 {
			more = "less"
		}
		say := fmt.Sprintf("%-52s %6.1f where not doubled, %6.1f where doubled %s", d.Trait, d.Not, d.Doubled, d.Unit)
		switch {
		case d.Chance > noise:
			say += "; no more than chance gives"
		default:
			say += fmt.Sprintf("; %s of it in %.0f of 100 pairs", more, 50*(1+abs(d.Effect)))
		}
		s.WriteString(strings.TrimRight(say, " ") + "\n")
	}
	_, err := io.WriteString(out, s.String())
	return err
}

func abs(v float64) float64 {
	if v < 0 {
		return -v
	}
	return v
}
