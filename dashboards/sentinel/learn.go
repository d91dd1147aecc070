package sentinel

import (
	"fmt"
	"math"
	"strings"

	"lathwatch/alerts"
)

// Learn puts learnt ratios in the place of those of kinds, where both pots were measured on enough of the same days.
func Learn(st *alerts.Standing, all []Sentinel) []Sentinel {
	for i := range all {
		for k := range all[i].Speaks {
			r := &all[i].Speaks[k]
			if learnt, ok := st.DryRatio(r.Pot, all[i].Pot); ok {
				r.Ratio, r.Days = 1/learnt.Times, learnt.Days
			}
		}
	}
	return all
}

// learnt says which ratios were learnt, and what the others are.
func (s Sentinel) learnt() string {
	var known []string
	for _, r := range s.Speaks {
		if r.Days > 0 {
			known = append(known, fmt.Sprintf("%s dries %s (%d days)", r.Pot, times(1/r.Ratio), r.Days))
		}
	}
	switch {
	case len(known) == 0:
		return ""
	case len(known) == len(s.Speaks):
		return " Measured beside it: " + strings.Join(known, ", ") + "."
	}
	return " Measured beside it: " + strings.Join(known, ", ") + "; the others are taken to dry as their kind does."
}

// times writes a ratio of drying rates.
func times(t float64) string {
	if math.Abs(t-1) < 0.1 {
		return "as fast as it"
	}
	return fmt.Sprintf("%.1f times as fast", t)
}
