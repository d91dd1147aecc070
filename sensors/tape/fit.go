package tape

import (
	"fmt"
	"slices"

	"lathwatch/sensors/garden"
)

// Fit parts rows into those a garden can use and those it cannot, each named with its line: a probe it does not have, a unit
// the probe does not speak.
func Fit(file string, rows []Row, g *garden.Garden) (kept []Row, bad []*RowError) {
	probes := map[string]*garden.Probe{}
	for i := range g.Probes {
		probes[string(g.Probes[i].ID)] = &g.Probes[i]
	}
	for _, r := range rows {
		p := probes[string(r.Probe)]
		switch {
		case p == nil:
			bad = append(bad, &RowError{file, r.Line, fmt.Sprintf("the garden has no probe %s", r.Probe)})
		case p.Unit.Known() && p.Unit != r.Step.Unit:
			bad = append(bad, &RowError{file, r.Line, fmt.Sprintf("probe %s speaks %s, not %s", p.ID, p.Unit.SenML(), r.Step.Unit.SenML())})
		case !slices.Contains(p.Measures.Units(), r.Step.Unit):
			bad = append(bad, &RowError{file, r.Line, fmt.Sprintf("probe %s measures %v, which is not in %s", p.ID, p.Measures, r.Step.Unit.SenML())})
		default:
			kept = append(kept, r)
		}
	}
	slices.SortFunc(bad, func(a, b *RowError) int { return a.Line - b.Line })
	return kept, bad
}
