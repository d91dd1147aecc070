package alerts

import "time"

// Quenched reports that a call for water is answered, though it may stand for a while: the pot was watered since and nothing says
// it is under its dry limit, or (as after rain) its reading lies nearer to what a watering aims at than to that limit.
func (st *Standing) Quenched(pot string, since time.Time) bool {
	p := st.pot(pot)
	if p == nil {
		return false
	}
	watered := p.Watered.After(since)
	if !p.WetnessOK || p.Regime == nil {
		return watered
	}
	cell := p.Regime.Cell(p.Phase)
	return watered && p.Wetness >= cell.Low || cell.Target > cell.Low && 2*p.Wetness > cell.Low+cell.Target
}

// answered takes the pots out of a call for water that have been watered since.
func (st *Standing) answered(a *Alert) []string {
	if a.Kind != "water" && a.Kind != "water-light" {
		return a.Pots
	}
	var open []string
	for _, id := range a.Pots {
		if !st.Quenched(id, a.Since) {
			open = append(open, id)
		}
	}
	return open
}
