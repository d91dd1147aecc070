package alerts

import "lathwatch/sensors/garden"

// An Alike is a way of wintering that two pots or more share: one note may mean all of them.
type Alike struct {
	Regime *garden.Regime
	Pots   []int // in the Standing's order
}

// WinteredAlike lists the ways of wintering shared here, in the shelf's order.
func (st *Standing) WinteredAlike() (all []Alike) {
	for i := range garden.Regimes {
		a := Alike{Regime: &garden.Regimes[i]}
		for k := range st.Pots {
			if p := &st.Pots[k]; p.Gone.IsZero() && p.Regime != nil && p.Regime.Name == a.Regime.Name {
				a.Pots = append(a.Pots, k)
			}
		}
		if len(a.Pots) > 1 {
			all = append(all, a)
		}
	}
	return all
}
