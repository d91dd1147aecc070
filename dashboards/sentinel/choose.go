package sentinel

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// A Trait is what sets a pot's drying.
type Trait struct {
	Pot, Place, Regime string
	Clay               bool
	PerDay             float64 // share of its water that goes in a day, as a logarithm; learned, or the guess for its kind
	Own                bool    // learned
	Probed             bool
}

// A Sentinel is a pot worth a probe.
type Sentinel struct {
	Pot    string
	Speaks []Relative // in the garden's order
	Probed bool       // it has one already
}

// A Relative is a pot a sentinel speaks for: its water lasts Ratio times as long as the sentinel's. Days is how many days both were
// measured where the ratio was learnt from them; 0: it is that of their kinds.
type Relative struct {
	Pot   string
	Ratio float64
	Days  int
}

// What a difference weighs against a doubling of the drying rate, which weighs 0.69: another place sees other weather, another regime
// other limits; material shows in the rate already and in how it answers to wind. Guesses.
const (
	otherPlace    = 1.2
	otherRegime   = 1.0
	otherMaterial = 0.35
	hasProbe      = 0.25 // what a pot that is probed already may be less apt
)

// Traits reads them from what is known of the garden. A pot that was measured long enough has its own rate, the others the guess for
// their kind, made to fit what the measured ones do.
func Traits(st *alerts.Standing) []Trait {
	var out []Trait
	var fits []float64 // own rates over the guesses for their kinds
	for i := range st.Pots {
		p := &st.Pots[i]
		if !p.Gone.IsZero() {
			continue
		}
		t := Trait{Pot: p.Pot.ID, Place: p.Place, Clay: p.Pot.Clay, Probed: probed(st.Garden, p.Pot.ID)}
		if p.Regime != nil {
			t.Regime = p.Regime.Name
		}
		t.PerDay, _, _ = indices.NewDryDown(indices.PotKind{Clay: p.Pot.Clay, Litres: p.Pot.Litres.Litres(), Growth: p.Phase == garden.Growth}).Rate()
		if p.DryPerDay > 0 {
			fits = append(fits, p.DryPerDay/t.PerDay)
			t.PerDay, t.Own = p.DryPerDay, true
		}
		out = append(out, t)
	}
	if len(fits) > 0 {
		slices.Sort(fits)
		for i := range out {
			if !out[i].Own {
				out[i].PerDay *= fits[len(fits)/2]
			}
		}
	}
	return out
}

func probed(g *garden.Garden, pot string) bool {
	return slices.ContainsFunc(g.Probes, func(p garden.Probe) bool { return p.Pot == pot && p.Measures == garden.PotMoisture })
}

func apart(a, b *Trait) float64 {
	d := math.Abs(math.Log(a.PerDay / b.PerDay))
	if a.Place != b.Place {
		d += otherPlace
	}
	if a.Regime != b.Regime {
		d += otherRegime
	}
	if a.Clay != b.Clay {
		d += otherMaterial
	}
	return d
}

// Choose picks at most n pots so that no pot is far from the nearest one: first the one that dries fastest, then again and again the
// pot furthest from all chosen (Gonzalez 1985, Theoretical Computer Science 38:293-306: never worse than twice the best there is).
// A probed pot that is nearly as apt is taken before one that is not.
func Choose(ts []Trait, n int) []Sentinel {
	ts = slices.DeleteFunc(slices.Clone(ts), func(t Trait) bool { return !(t.PerDay > 0) })
	if n <= 0 || len(ts) == 0 {
		return nil
	}
	chosen := []int{fastest(ts)}
	for len(chosen) < min(n, len(ts)) {
		best, far := -1, 0.0
		for i := range ts {
			d := nearest(ts, chosen, i)
			if ts[i].Probed {
				d += hasProbe
			}
			if nearest(ts, chosen, i) > 0 && d > far {
				best, far = i, d
			}
		}
		if best < 0 {
			break // all others are alike to one chosen
		}
		chosen = append(chosen, best)
	}
	slices.Sort(chosen)
	return assign(ts, chosen)
}

func fastest(ts []Trait) int {
	best := 0
	for i := range ts {
		if ts[i].PerDay > ts[best].PerDay {
			best = i
		}
	}
	return best
}

func nearest(ts []Trait, chosen []int, i int) float64 {
	d := math.Inf(1)
	for _, c := range chosen {
		d = math.Min(d, apart(&ts[c], &ts[i]))
	}
	return d
}

func assign(ts []Trait, chosen []int) []Sentinel {
	out := make([]Sentinel, len(chosen))
	for k, c := range chosen {
		out[k] = Sentinel{Pot: ts[c].Pot, Probed: ts[c].Probed}
	}
	for i := range ts {
		if slices.Contains(chosen, i) {
			continue
		}
		k := 0
		for j, c := range chosen {
			if cmp.Less(apart(&ts[c], &ts[i]), apart(&ts[chosen[k]], &ts[i])) {
				k = j
			}
		}
		out[k].Speaks = append(out[k].Speaks, Relative{Pot: ts[i].Pot, Ratio: ts[chosen[k]].PerDay / ts[i].PerDay})
	}
	return out
}

// String says what to do about a sentinel.
func (s Sentinel) String() string {
	verb := "Probe " + s.Pot
	if s.Probed {
		verb = s.Pot + " is probed"
	}
	if len(s.Speaks) == 0 {
		return verb + "; nothing else dries like it."
	}
	var like, sooner, later []string
	for _, r := range s.Speaks {
		switch {
		case r.Ratio < 0.8:
			sooner = append(sooner, r.Pot)
		case r.Ratio > 1.25:
			later = append(later, r.Pot)
		default:
			like = append(like, r.Pot)
		}
	}
	var say []string
	for _, g := range []struct {
		ids  []string
		what string
	}{{like, "dry like it"}, {sooner, "dry sooner: look at them first"}, {later, "dry later"}} {
		if len(g.ids) == 1 {
			g.what = strings.Replace(strings.Replace(g.what, "dry", "dries", 1), "them", "it", 1)
		}
		if len(g.ids) > 0 {
			say = append(say, names(g.ids)+" "+g.what)
		}
	}
	return fmt.Sprintf("%s; it can speak for others: %s.%s", verb, strings.Join(say, "; "), s.learnt())
}

// names gives "D7", "D7 and D8", "D7, D8 and E1".
func names(ids []string) string {
	if len(ids) < 2 {
		return strings.Join(ids, "")
	}
	return strings.Join(ids[:len(ids)-1], ", ") + " and " + ids[len(ids)-1]
}
