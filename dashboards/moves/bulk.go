package moves

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
)

// A Bulk is all pots of one way of wintering, which one note moves.
type Bulk struct {
	Regime  string // as a note names it: all:<regime>
	Name    string
	Pots    int
	Changes []string // what each move would change, in words
}

// bulks weighs the moves of all pots wintered alike.
func (w *Weighed) bulks(st *alerts.Standing) []Bulk {
	if len(w.Places) < 2 {
		return nil
	}
	var out []Bulk
	for _, a := range st.WinteredAlike() {
		r := a.Regime
		if !r.Rest.Speak[garden.TooWet] {
			continue // they winter in the open: nothing here may sound like covering them
		}
		b := Bulk{Regime: r.Name, Name: strings.ReplaceAll(r.Name, "-", " "), Pots: len(a.Pots)}
		at := make([]int, len(w.Places))
		for _, k := range a.Pots {
			for j := range w.Places {
				if w.Places[j].ID == st.Pots[k].Place {
					at[j]++
				}
			}
		}
		for from, n := range at {
			for to := range w.Places {
				if n > 0 && to != from {
					b.Changes = append(b.Changes, w.change(st, r.Name, n, from, to))
				}
			}
		}
		out = append(out, b)
	}
	return out
}

// change says what a move from one place to another would change.
func (w *Weighed) change(st *alerts.Standing, regime string, n, from, to int) string {
	a, b := &w.Places[from], &w.Places[to]
	s := fmt.Sprintf("%s now %s. %s: the night's minimum %s", count(n), a.where(), upper(b.where()), signed(b.Warmer-a.Warmer))
	if a.Roof && !a.Known || b.Roof && !b.Known {
		s += " (a guess)"
	}
	if d := st.Places[from].LeafBelowAir().Celsius() - st.Places[to].LeafBelowAir().Celsius(); d != 0 {
		s += fmt.Sprintf(", leaves on clear nights another %s", signed(d))
	}
	switch {
	case b.Roof && !a.Roof:
		s += ", no rain" + weekOf(&st.Places[from])
	case a.Roof && !b.Roof:
		s += ", rain" + weekOf(&st.Places[to])
	}
	here, there := 0.0, 0.0
	for i := range w.Pots {
		p := &w.Pots[i]
		if q := &st.Pots[p.index]; p.Place == a.ID && q.Regime != nil && q.Regime.Name == regime {
			here, there = math.Max(here, p.Chance[from]), math.Max(there, p.Chance[to])
		}
	}
	if w.Climate {
		s += fmt.Sprintf("; the worst chance of a harmful night in the fortnight is %s there and %s here", chanceWords(there), chanceWords(here))
	}
	return s + "."
}

func weekOf(p *alerts.PlaceStanding) string {
	if !p.RainKnown {
		return ""
	}
	return fmt.Sprintf(" (%.0f mm in the last seven days)", float64(p.RainWeek)/1000)
}

func (p *Place) where() string { return alerts.AtPlace(cmp.Or(p.Name, p.ID)) }

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func count(n int) string {
	if n == 1 {
		return "1 pot"
	}
	return fmt.Sprintf("%d pots", n)
}

func signed(c float64) string {
	if math.Abs(c) < 0.05 {
		return "as it is"
	}
	return strings.Replace(fmt.Sprintf("%+.1f\u00a0°C", c), "-", "−", 1)
}
