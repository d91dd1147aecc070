package dashboards

import (
	"slices"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// potProbes lists a pot's probes of a kind.
func potProbes(st *alerts.Standing, pot string, m garden.Measures) []*alerts.ProbeStanding {
	var ps []*alerts.ProbeStanding
	for i := range st.Probes {
		if p := &st.Probes[i]; p.Probe.Pot == pot && p.Probe.Measures == m {
			ps = append(ps, p)
		}
	}
	return ps
}

// potTrouble says in a word why none of a pot's moisture probes can be heard, and since when; "" when one can.
func potTrouble(st *alerts.Standing, pot string) (word string, since time.Time) {
	probes := potProbes(st, pot, garden.PotMoisture)
	if len(probes) == 0 {
		return "", time.Time{}
	}
	for _, p := range probes {
		w, at := probeTrouble(p)
		if w == "" {
			return "", time.Time{}
		}
		if word == "" || at.After(since) {
			word, since = w, at
		}
	}
	return word, since
}

// probeTrouble says in a word what is wrong with a probe and since when; "" when nothing is.
func probeTrouble(p *alerts.ProbeStanding) (word string, since time.Time) {
	switch {
	case p.Fault == sensors.Silent || p.Fault == 0 && p.Silent:
		return "silent", p.LastAt
	case p.Fault != 0:
		return p.Fault.String(), p.FaultSince
	}
	return "", time.Time{}
}

func suspect(probes []*alerts.ProbeStanding) bool {
	return !slices.ContainsFunc(probes, func(p *alerts.ProbeStanding) bool { return p.Quality == sensors.Valid })
}
