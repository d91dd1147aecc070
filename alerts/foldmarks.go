package alerts

import (
	"slices"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// moisture folds a moisture reading into its layer, through the marks valid now.
func (f *Fold) moisture(at time.Time, slot int, u units.Unit, v int64) {
	pf := &f.probes[slot]
	if pf.pot < 0 {
		return
	}
	l := &f.pots[pf.pot].layers[pf.layer]
	l.at = at
	if u == units.Moisture {
		l.share, l.known, l.guess = v, true, false
		return
	}
	var sc garden.Scale
	if sc, l.known = f.scale(at, slot); l.known {
		l.share, l.guess = int64(sc.Of(v)), sc.Guess
	}
}

// scale finds the two marks of a probe valid at an instant; a missing one is borrowed from the pot it is said to be like.
func (f *Fold) scale(at time.Time, slot int) (garden.Scale, bool) {
	full, dry := newestMarks(f.probes[slot].marks, at)
	guess := false
	if full == nil || dry == nil {
		if other := f.likeProbe(slot); other >= 0 {
			bf, bd := newestMarks(f.probes[other].marks, at)
			if full == nil {
				full, guess = bf, true
			}
			if dry == nil {
				dry, guess = bd, true
			}
		}
	}
	if full == nil || dry == nil || full.Raw == dry.Raw {
		return garden.Scale{}, false
	}
	share := int64(dry.Share)
	if share < 0 {
		share = f.dryLimit(f.probes[slot].pot)
	}
	return garden.Scale{FullRaw: full.Raw, DryRaw: dry.Raw, DryShare: share, Guess: guess || f.probes[slot].bent}, true
}

// dryLimit is what driest-allowed stands for unless the keeper gave a figure.
func (f *Fold) dryLimit(pot int) int64 {
	ps := &f.st.Pots[pot]
	if ps.Regime == nil {
		return 200
	}
	return int64(ps.Regime.Cell(ps.Phase).Low)
}

func (f *Fold) likeProbe(slot int) int {
	pot := f.st.Pots[f.probes[slot].pot].Pot
	if pot.Like == "" {
		return -1
	}
	if j := f.potIndex(pot.Like); j >= 0 && len(f.pots[j].layers) > 0 {
		return f.pots[j].layers[0].probe
	}
	return -1
}

func newestMarks(marks []garden.Mark, at time.Time) (full, dry *garden.Mark) {
	for i := range marks {
		m := &marks[i]
		if m.From.After(at) {
			break
		}
		switch m.Which {
		case garden.DrainedFull:
			full = m
		case garden.DriestAllowed:
			dry = m
		case garden.NewEpoch:
			full, dry = nil, nil
		}
	}
	return full, dry
}

// noteMark reads "drained-full 1.21 V" or "driest-allowed 2.4 V 20 %", with the probe's id in front where the pot has several. A
// weight in such a mark stands for a moisture of the pot itself, for pots that are only weighed.
func (f *Fold) noteMark(i int, n *sensors.Note) {
	m, unit, ok := parseMark(n.At, n.Detail)
	if !ok {
		return
	}
	words := strings.Fields(n.Detail)
	slot := -1
	for _, la := range f.pots[i].layers {
		p := f.st.Probes[la.probe].Probe
		if (p.Measures == garden.PotWeight) == (unit == units.Mass) && (slot < 0 || string(p.ID) == words[0]) {
			slot = la.probe
		}
	}
	if slot >= 0 {
		f.probes[slot].noted = append(f.probes[slot].noted, m)
		f.mergeMarks(slot)
	} else if unit == units.Mass {
		f.pots[i].weights = append(f.pots[i].weights, m)
	}
}

// mergeMarks lays the file's marks of a probe and the noted ones in order of time.
func (f *Fold) mergeMarks(slot int) {
	p := &f.probes[slot]
	p.marks = append(append([]garden.Mark(nil), f.st.Probes[slot].Probe.Marks...), p.noted...)
	slices.SortStableFunc(p.marks, func(a, b garden.Mark) int { return a.From.Compare(b.From) })
}

// weighed takes a weight between two marked ones for a moisture reading of a pot without a probe.
func (f *Fold) weighed(i int, n *sensors.Note) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	g, err := units.ParseAs(n.Detail, units.Mass)
	full, dry := newestMarks(pf.weights, n.At)
	if err != nil || len(pf.layers) > 0 || full == nil || dry == nil || full.Raw <= dry.Raw {
		return
	}
	share := int64(dry.Share)
	if share < 0 {
		share = f.dryLimit(i)
	}
	w := garden.Scale{FullRaw: full.Raw, DryRaw: dry.Raw, DryShare: share}.Of(g)
	ps.Wetness, ps.WetnessAt, ps.WetnessOK = w, n.At, !ps.Frozen
	pf.down.Take(n.At, int64(w), !ps.Frozen, 0, false)
	pf.down.Take(n.At.Add(3*time.Hour), 0, false, 0, false) // the next weight may be days away: this one counts by itself
	ps.DrySince = time.Time{}
	if ps.Regime != nil && w < ps.Regime.Cell(ps.Phase).Low {
		ps.DrySince = n.At
	}
	f.daysByWeight(n.At, i)
}

// daysByWeight counts the days left down from the last weighing.
func (f *Fold) daysByWeight(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	ps.DaysLeft = Interval{}
	if ps.Regime == nil || ps.WetnessAt.IsZero() || len(pf.weights) == 0 {
		return
	}
	if lo, hi, ok := pf.down.DaysLeft(int64(ps.Regime.Cell(ps.Phase).Low)); ok {
		gone := now.Sub(ps.WetnessAt).Hours() / 24
		ps.DaysLeft = Interval{max(lo-gone, 0), max(hi-gone, 0), true}
	}
}

// feelHeavy is what a pot that feels heavy holds at least, ‰ of drained-full; feelSlack is how far a reading may be off before the
// keeper's hands overrule it (both guesses).
const (
	feelHeavy = 750
	feelSlack = 50
)

// feel lets the keeper's hands correct the marks: a reading that says otherwise bends the mark nearest to it until it agrees. The
// bent scale is a guess.
func (f *Fold) feel(i int, n *sensors.Note) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if len(pf.layers) == 0 || ps.Regime == nil || ps.Frozen {
		return
	}
	la := &pf.layers[0]
	raw := f.st.Probes[la.probe].Last
	if !la.known || n.At.Sub(la.at) > stale || raw.Unit() == units.Moisture {
		return
	}
	low, share := f.dryLimit(i), la.share
	m := garden.Mark{From: n.At, Raw: raw.Whole(), Share: -1}
	switch {
	case n.Detail == "light" && share > low+feelSlack:
		m.Which, m.Share = garden.DriestAllowed, units.PerMilleFull(low)
	case n.Detail == "heavy" && share < feelHeavy-feelSlack:
		m.Which, m.Share = garden.DrainedFull, 1000
		sc, _ := f.scale(n.At, la.probe)
		// The full mark that makes this reading feelHeavy, the dry one staying where it is.
		m.Raw = sc.DryRaw + (m.Raw-sc.DryRaw)*(1000-sc.DryShare)/(feelHeavy-sc.DryShare)
	case n.Detail == "right" && share < low:
		m.Which, m.Share = garden.DriestAllowed, units.PerMilleFull(low+feelSlack)
	default:
		return
	}
	p := &f.probes[la.probe]
	p.noted, p.bent = append(p.noted, m), true
	f.mergeMarks(la.probe)
	la.gate.Reseated(n.At) // levels of the old scale mean nothing on the new one
	f.resetClocks(n.At, i)
	pf.steps.Handled(n.At)
	pf.down.Watered()
}

// ParseMark reads a mark note's detail.
func ParseMark(at time.Time, detail string) (garden.Mark, bool) {
	m, _, ok := parseMark(at, detail)
	return m, ok
}

func parseMark(at time.Time, detail string) (garden.Mark, units.Unit, bool) {
	m := garden.Mark{From: at, Share: -1}
	words := strings.Fields(detail)
	for k, w := range words {
		if m.Which.UnmarshalText([]byte(w)) != nil {
			continue
		}
		rest := strings.Join(words[k+1:], " ")
		value, share, two := cutSecond(rest)
		raw, unit, err := units.Parse(value)
		if err != nil {
			return m, unit, false
		}
		m.Raw = raw
		if m.Which == garden.DrainedFull {
			m.Share = 1000
		}
		if two {
			if s, err := units.ParseAs(share, units.Moisture); err == nil {
				m.Share = units.PerMilleFull(s)
			}
		}
		return m, unit, true
	}
	return m, units.None, false
}

// cutSecond splits "2.4 V 20 %" into its two quantities.
func cutSecond(s string) (first, second string, two bool) {
	words := strings.Fields(s)
	for k := 1; k < len(words); k++ {
		first, second = strings.Join(words[:k], " "), strings.Join(words[k:], " ")
		if _, _, err := units.Parse(first); err == nil {
			return first, second, true
		}
	}
	return s, "", false
}
