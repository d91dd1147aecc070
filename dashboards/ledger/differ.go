package ledger

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"lathwatch/dashboards/review"
	"lathwatch/sensors/garden"
)

// A Trait is something the pots of a plant went through that may be compared.
type Trait struct {
	Name, Unit string
	Before     bool // of the season before: what fed and grew the buds
	of         func(p *review.Pot, c garden.Calendar) (float64, bool)
}

// Traits are everything compared, in a fixed order.
func Traits() []Trait {
	always := func(f func(p *review.Pot) float64) func(*review.Pot, garden.Calendar) (float64, bool) {
		return func(p *review.Pot, _ garden.Calendar) (float64, bool) { return f(p), true }
	}
	judged := func(f func(p *review.Pot) float64) func(*review.Pot, garden.Calendar) (float64, bool) {
		return func(p *review.Pot, _ garden.Calendar) (float64, bool) { return f(p), p.JudgedDays >= 10 }
	}
	own := func(f func(p *review.Pot) float64) func(*review.Pot, garden.Calendar) (float64, bool) {
		return func(p *review.Pot, _ garden.Calendar) (float64, bool) { return f(p), p.Own }
	}
	day := func(f func(p *review.Pot) garden.Date) func(*review.Pot, garden.Calendar) (float64, bool) {
		return func(p *review.Pot, c garden.Calendar) (float64, bool) {
			d := f(p)
			return float64(c.SeasonDay(d)), d != 0
		}
	}
	return []Trait{
		{"cold credit", "days", false, func(p *review.Pot, _ garden.Calendar) (float64, bool) { return p.Credit[0], p.ColdStart != 0 }},
		{"day the cold was enough", "day of the plants' year", false, day(func(p *review.Pot) garden.Date { return p.EnoughOn })},
		{"days too dry at rest", "days", false, judged(func(p *review.Pot) float64 { return p.DryDays })},
		{"days too wet at rest", "days", false, judged(func(p *review.Pot) float64 { return p.WetDays })},
		{"days frozen", "days", false, own(func(p *review.Pot) float64 { return p.FrozenDays })},
		{"freeze-thaw cycles", "", false, own(func(p *review.Pot) float64 { return float64(p.FreezeThaw) })},
		{"coldest root", "°C", false, own(func(p *review.Pot) float64 { return float64(p.Coldest.V) / 1000 })},
		{"day of the nose", "day of the plants' year", false, day(func(p *review.Pot) garden.Date { return p.Nose })},
		{"waterings at rest and after", "", false, always(func(p *review.Pot) float64 { return float64(len(p.Waterings)) })},
		{"days too dry in growth, the year before", "days", true, judged(func(p *review.Pot) float64 { return p.DryGrowth })},
		{"hottest root, the year before", "°C", true, own(func(p *review.Pot) float64 { return float64(p.Hottest.V) / 1000 })},
		{"hours over 25 °C, the year before", "h", true, own(func(p *review.Pot) float64 { return p.Over25 })},
		{"days from dressing to the nose, the year before", "days", true, func(p *review.Pot, _ garden.Calendar) (float64, bool) {
			return float64(p.Nose - p.Dressed), p.Nose != 0 && p.Dressed != 0
		}},
		{"liquid feeds, the year before", "", true, always(func(p *review.Pot) float64 { return float64(len(p.Feeds)) })},
		{"pot size", "L", false, func(p *review.Pot, _ garden.Calendar) (float64, bool) { return p.Litres, p.Litres > 0 }},
	}
}

// A Difference is one trait of the plants that doubled against those that did not. It tells no cause.
type Difference struct {
	Trait, Unit    string
	Doubled, Not   float64 // medians
	NDoubled, NNot int
	// Effect is how often a plant that did not double had more of it than one that did, less how often it had less: −1 to 1, nought
	// when the trait tells them apart no better than a coin (Cliff 1993, Psychological Bulletin 114:494-509).
	Effect float64
	// Chance is how often shuffling the two groups gave some trait as great an effect as this one, of all traits compared: near 0 is
	// worth a look, over 0.2 is noise.
	Chance float64
}

// leastGroup is how many plant-years each group must have for a comparison.
const leastGroup = 3

// A plantYear is one plant's season with whether it doubled and what its pots went through; NaN where not known.
type plantYear struct {
	doubled bool
	values  []float64
}

// Differ compares plants that doubled with those that did not, the greatest difference first. season 0 takes all seasons together.
// Winters are the seasons kept, in any order.
func Differ(b *Book, winters []*review.Winter, season int) []Difference {
	traits := Traits()
	years := plantYears(b, winters, season, traits)
	var out []Difference
	var groups []grouped
	for i, t := range traits {
		g := group(years, i)
		if len(g.yes) < leastGroup || len(g.no) < leastGroup {
			continue
		}
		d := Difference{Trait: t.Name, Unit: t.Unit, NDoubled: len(g.yes), NNot: len(g.no), Effect: cliff(g.no, g.yes)}
		d.Doubled, _ = median(g.yes)
		d.Not, _ = median(g.no)
		out, groups = append(out, d), append(groups, g)
	}
	chances(out, groups)
	slices.SortStableFunc(out, func(x, y Difference) int { return cmp.Compare(math.Abs(y.Effect), math.Abs(x.Effect)) })
	return out
}

func plantYears(b *Book, winters []*review.Winter, season int, traits []Trait) []plantYear {
	var out []plantYear
	for i := range b.Plants {
		l := &b.Plants[i]
		for j := range l.Years {
			y := &l.Years[j]
			if !y.RatioOK || season != 0 && y.Season != season {
				continue
			}
			py := plantYear{doubled: y.Doubled(), values: make([]float64, len(traits))}
			for k, t := range traits {
				s := y.Season
				if t.Before {
					s--
				}
				py.values[k] = traitOf(winters, s, l.Plant, b.Cal, t)
			}
			out = append(out, py)
		}
	}
	return out
}

// traitOf is the mean over a plant's pots in a season; NaN when none tells.
func traitOf(winters []*review.Winter, season int, plant string, cal garden.Calendar, t Trait) float64 {
	sum, n := 0.0, 0
	for _, w := range winters {
		if w.Season != season {
			continue
		}
		for i := range w.Pots {
			if p := &w.Pots[i]; p.Plant == plant {
				if v, ok := t.of(p, cal); ok {
					sum, n = sum+v, n+1
				}
			}
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return sum / float64(n)
}

type grouped struct {
	yes, no []float64
}

func group(years []plantYear, trait int) (g grouped) {
	for _, y := range years {
		switch v := y.values[trait]; {
		case math.IsNaN(v):
		case y.doubled:
			g.yes = append(g.yes, v)
		default:
			g.no = append(g.no, v)
		}
	}
	return g
}

// cliff is Cliff's delta of a over b.
func cliff(a, b []float64) float64 {
	more := 0
	for _, x := range a {
		for _, y := range b {
			more += cmp.Compare(x, y)
		}
	}
	return float64(more) / float64(len(a)*len(b))
}

// shuffles is how many random partings are compared with the true one.
const shuffles = 400

// chances works out, by shuffling who doubled, how often the greatest effect of all traits reaches each trait's own. The shuffling
// begins with a fixed seed: the same book gives the same figures.
func chances(ds []Difference, gs []grouped) {
	rng := rand.New(rand.NewPCG(1, 2))
	reached := make([]int, len(ds))
	for range shuffles {
		top := 0.0
		for _, g := range gs {
			all := slices.Concat(g.yes, g.no)
			rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
			top = max(top, math.Abs(cliff(all[len(g.yes):], all[:len(g.yes)])))
		}
		for i := range ds {
			if top >= math.Abs(ds[i].Effect) {
				reached[i]++
			}
		}
	}
	for i := range ds {
		ds[i].Chance = float64(reached[i]+1) / (shuffles + 1)
	}
}

// median is the middle value, the mean of two.
func median(v []float64) (float64, bool) {
	if len(v) == 0 {
		return 0, false
	}
	s := slices.Clone(v)
	slices.Sort(s)
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2, true
}
