package curve

import (
	"cmp"
	"slices"

	"lathwatch/sensors/garden"
)

// A DayAir is one civil day of air for finding spells, in m°C.
type DayAir struct {
	Date           garden.Date
	Min, Max, Mean int64
}

// SpellKind is what sort of spell it is.
type SpellKind uint8

// The kinds of spell. Never told apart by colour alone: freezing is hatched and labelled above, warm is dotted and labelled below.
const (
	Freezing SpellKind = iota // days on which it froze
	Warm                      // three or more days too warm to count towards the rest
)

// A Spell is a run of days of one kind; no missing day lies within it.
type Spell struct {
	Kind        SpellKind
	First, Last garden.Date
	Extreme     int64 // lowest of a freezing spell, highest mean of a warm one, m°C
}

// Days is how many days it lasts.
func (s Spell) Days() int { return int(s.Last-s.First) + 1 }

const (
	freezeBelow = 0    // m°C: a day whose lowest is under it
	warmFrom    = 8000 // m°C: a day whose mean is at or over it earns no cold credit
	warmDays    = 3
)

// Spells finds the freezing and warm spells of days in order.
func Spells(days []DayAir) []Spell {
	freeze := runsOf(days, Freezing, func(d DayAir) (bool, int64) { return d.Min < freezeBelow, d.Min })
	warm := runsOf(days, Warm, func(d DayAir) (bool, int64) { return d.Mean >= warmFrom, d.Mean })
	warm = slices.DeleteFunc(warm, func(s Spell) bool { return s.Days() < warmDays })
	return append(freeze, warm...)
}

func runsOf(days []DayAir, kind SpellKind, in func(DayAir) (bool, int64)) []Spell {
	var out []Spell
	for _, d := range days {
		yes, v := in(d)
		if !yes {
			continue
		}
		if n := len(out); n > 0 && out[n-1].Last == d.Date-1 {
			s := &out[n-1]
			s.Last = d.Date
			if kind == Freezing && v < s.Extreme || kind == Warm && v > s.Extreme {
				s.Extreme = v
			}
			continue
		}
		out = append(out, Spell{kind, d.Date, d.Date, v})
	}
	return out
}

// Labelled chooses the spells whose figure is written: the most extreme first, none within apart days of one already chosen.
func Labelled(spells []Spell, kind SpellKind, apart int) []Spell {
	var mine []Spell
	for _, s := range spells {
		if s.Kind == kind {
			mine = append(mine, s)
		}
	}
	slices.SortStableFunc(mine, func(a, b Spell) int {
		if kind == Freezing {
			return cmp.Compare(a.Extreme, b.Extreme)
		}
		return cmp.Compare(b.Extreme, a.Extreme)
	})
	var chosen []Spell
	for _, s := range mine {
		mid := int(s.First+s.Last) / 2
		if !slices.ContainsFunc(chosen, func(c Spell) bool {
			d := mid - int(c.First+c.Last)/2
			return d < apart && -d < apart
		}) {
			chosen = append(chosen, s)
		}
	}
	slices.SortFunc(chosen, func(a, b Spell) int { return cmp.Compare(a.First, b.First) })
	return chosen
}
