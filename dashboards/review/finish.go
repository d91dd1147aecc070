package review

import (
	"cmp"
	"math"
	"slices"

	"lathwatch/alerts"
	"lathwatch/dashboards/curve"
	"lathwatch/sensors/garden"
)

// Changed takes the changes an entry caused, with the Standing then.
func (c *Collector) Changed(st *alerts.Standing, cs []alerts.Change) {
	if st.Garden == nil || !c.begun || st.Season != c.Season {
		return
	}
	for _, ch := range cs {
		if ch.Text == "" || ch.To == "digest" {
			continue
		}
		m := Message{At: ch.At, Kind: ch.Kind, Rank: ch.Rank.String(), Place: ch.Place, Pots: ch.Pots, Text: ch.Text, Good: Open}
		for i := range st.Pots {
			if slices.Contains(ch.Pots, st.Pots[i].Pot.ID) {
				m.state = append(m.state, stateOf(&st.Pots[i]))
			}
		}
		c.w.Said = append(c.w.Said, m)
		if ch.Kind == "frost-tonight" {
			c.warned(st, &ch)
		}
	}
}

func (c *Collector) warned(st *alerts.Standing, ch *alerts.Change) {
	n := st.Cal.Night(ch.At)
	for i := range c.w.Nights {
		if nt := &c.w.Nights[i]; nt.Date == n && nt.Place == ch.Place {
			nt.Warned = true
		}
	}
}

// potState is a pot when a message named it.
type potState struct {
	id      string
	wet     int64
	wetOK   bool
	dryDays float64
	lowDays int
	low     int64
}

func stateOf(ps *alerts.PotStanding) potState {
	s := potState{id: ps.Pot.ID, wet: int64(ps.Wetness), wetOK: ps.WetnessOK, dryDays: ps.DryDays}
	if ps.Regime != nil {
		cell := ps.Regime.Cell(ps.Phase)
		s.low, s.lowDays = int64(cell.Low), cell.LowDays
	}
	return s
}

// Winter closes the books and gives what was found; nil when the season has no round.
func (c *Collector) Winter() *Winter {
	if !c.begun {
		return nil
	}
	w := c.w
	for k := range w.Places {
		if t := &c.places[k]; t.days.Started() {
			c.airDay(k, t.days.Today)
		}
	}
	w = c.w
	for k := range w.Places {
		c.closePlace(&w, k)
	}
	for i := range w.Pots {
		closePot(&w.Pots[i])
	}
	slices.SortStableFunc(w.Pots, func(a, b Pot) int { return cmp.Compare(rank(c.order, a.ID), rank(c.order, b.ID)) })
	w.roofs()
	w.came()
	return &w
}

func rank(order []string, id string) int {
	if i := slices.Index(order, id); i >= 0 {
		return i
	}
	return len(order)
}

// warmAfter is the season day (1 December, shifted in the south) from which a warm spell is one: before it the plants are still
// going to rest, and every autumn is warm.
const warmAfter = 91

func (c *Collector) closePlace(w *Winter, k int) {
	p := &w.Places[k]
	for i := range w.Nights {
		n := &w.Nights[i]
		if n.Place != p.ID {
			continue
		}
		if p.Lowest.At == 0 || n.Min < p.Lowest.V {
			p.Lowest = Extreme{n.Date, n.Min}
		}
		if n.Min < 0 {
			p.FrostNights++
			p.LastFrost = n.Date
			if p.FirstFrost == 0 {
				p.FirstFrost = n.Date
			}
		}
	}
	for _, s := range curve.Spells(p.air()) {
		if s.Kind == curve.Warm && p.WarmSpell == 0 && c.cal.SeasonDay(s.First) >= warmAfter {
			p.WarmSpell, p.WarmDays = s.First, s.Days()
		}
	}
	if span := c.cal.Start(w.Until + 1).Sub(c.cal.Start(w.From)).Seconds(); span > 0 {
		p.Observed = math.Min(1, float64(c.places[k].covers)/span)
	}
}

func (p *Place) air() []curve.DayAir {
	days := make([]curve.DayAir, len(p.Days))
	for i, d := range p.Days {
		days[i] = curve.DayAir{Date: d.Date, Min: d.Min, Max: d.Max, Mean: d.Mean}
	}
	return days
}

func closePot(p *Pot) {
	for i := range p.Days {
		d := &p.Days[i]
		p.FrozenDays += float64(d.frozenS) / 86_400
		p.DryDays += float64(d.dryS) / 86_400
		p.DryGrowth += float64(d.thirstS) / 86_400
		p.WetDays += float64(d.wetS) / 86_400
		p.JudgedDays += float64(d.judgedS) / 86_400
		d.Frozen = d.frozenS >= 43_200
	}
}

// reference is the place others are measured against: the shaded one, else the first without a roof.
func (w *Winter) reference() *Place {
	var open *Place
	for i := range w.Places {
		p := &w.Places[i]
		switch {
		case len(p.Days) == 0:
		case p.Shaded:
			return p
		case !p.Roof && open == nil:
			open = p
		}
	}
	return open
}

// roofs works out what each place's nights were beside the reference's.
func (w *Winter) roofs() {
	ref := w.reference()
	if ref == nil {
		return
	}
	at := map[garden.Date]int64{}
	for _, n := range w.Nights {
		if n.Place == ref.ID {
			at[n.Date] = n.Min
		}
	}
	for i := range w.Places {
		p := &w.Places[i]
		if p == ref {
			continue
		}
		var sum, sq float64
		for _, n := range w.Nights {
			open, ok := at[n.Date]
			if n.Place != p.ID || !ok || !n.Whole {
				continue
			}
			d := float64(n.Min-open) / 1000
			p.Warmer.N++
			sum, sq = sum+d, sq+d*d
			if p.Roof && open < 0 && n.Min >= 0 {
				p.SparedNights++
			}
		}
		if n := float64(p.Warmer.N); n > 0 {
			p.Warmer.Mean = sum / n
			p.Warmer.Each = math.Sqrt(math.Max(sq/n-p.Warmer.Mean*p.Warmer.Mean, 0))
		}
	}
}
