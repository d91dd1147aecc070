package alerts

import (
	"slices"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// A RatioYear is how many times as fast a pot dried as the one that speaks for it, learnt when both were measured.
type RatioYear struct {
	Pot, Beside   string
	Times, Spread float64
	Days          int
}

// DryRatio gives how many times as fast a pot dries as another, from the days of this season and its lead on which both were measured (by
// a probe or on the scales), else as an earlier season learnt it. ok is false where too few common days are known: then they are taken to
// dry alike.
func (st *Standing) DryRatio(pot, beside string) (r indices.DryRatio, ok bool) {
	b, a := st.pot(pot), st.pot(beside)
	if a == nil || b == nil {
		return r, false
	}
	if r, ok = indices.LearnDryRatio(commonDays(st.Cal, a.History, b.History)); ok {
		return r, true
	}
	for _, y := range b.Ratios {
		if y.Beside == beside {
			return indices.DryRatio{Times: y.Times, Spread: y.Spread, Days: y.Days}, true
		}
	}
	return r, false
}

// commonDays pairs the days on which both pots were measured.
func commonDays(cal garden.Calendar, a, b []DayPoint) (pairs []indices.DryPair) {
	wetted := false
	for len(a) > 0 && len(b) > 0 {
		switch {
		case a[0].Day < b[0].Day:
			wetted, a = wetted || a[0].Wetted, a[1:]
		case b[0].Day < a[0].Day:
			wetted, b = wetted || b[0].Wetted, b[1:]
		default:
			wetted = wetted || a[0].Wetted || b[0].Wetted
			if a[0].WetOK && b[0].WetOK {
				pairs = append(pairs, indices.DryPair{At: cal.Start(a[0].Day), A: int64(a[0].Wet), B: int64(b[0].Wet), Wetted: wetted})
				wetted = false
			}
			a, b = a[1:], b[1:]
		}
	}
	return pairs
}

// ratios are what a season taught of pots and those that speak for them.
func (f *Fold) ratios() (all []RatioYear) {
	for i := range f.st.Pots {
		p := f.st.Pots[i].Pot
		for _, id := range slices.Concat(p.Relatives, p.Faster) {
			if r, ok := f.st.DryRatio(id, p.ID); ok {
				all = append(all, RatioYear{id, p.ID, r.Times, r.Spread, r.Days})
			}
		}
	}
	return all
}

// wetted reports whether water came to a pot on a day, noted or seen to rise.
func (f *Fold) wetted(i int, d garden.Date) bool {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	from := f.st.Cal.Start(d)
	step, any := pf.steps.Last()
	return !ps.Watered.Before(from) || any && !step.At.Before(from) || !pf.leap.leapt.Before(from)
}
