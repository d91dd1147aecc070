package drivers

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// Group puts the wishes that share a chip together, chips in order of bus and chip and probes in order of id. It refuses a
// probe id given twice, two drivers or different settings on one chip, and two probes on one channel of a chip: each error
// names both. Two paths to one sensor would give stale or false values, two owners of one converter steal each other's channel.
func Group(wishes []Wish) ([][]Wish, error) {
	sorted := slices.Clone(wishes)
	slices.SortStableFunc(sorted, func(a, b Wish) int {
		return cmp.Or(cmp.Compare(a.Bus, b.Bus), cmp.Compare(a.Chip, b.Chip), cmp.Compare(a.Probe, b.Probe))
	})
	errs := twice(sorted)
	var groups [][]Wish
	first := map[string]Wish{}
	for _, w := range sorted {
		f, known := first[w.Chip]
		if !known {
			first[w.Chip] = w
			groups = append(groups, []Wish{w})
			continue
		}
		if err := clash(f, w); err != nil {
			errs = append(errs, err)
			continue
		}
		g := &groups[len(groups)-1]
		if i := slices.IndexFunc(*g, func(o Wish) bool { return w.Channel != "" && o.Channel == w.Channel }); i >= 0 {
			errs = append(errs, fmt.Errorf("probes %s and %s both read %s of %s: leave one of them out", (*g)[i].Probe, w.Probe, w.Channel, w.Chip))
			continue
		}
		*g = append(*g, w)
	}
	return groups, errors.Join(errs...)
}

// clash says why two wishes cannot share a chip.
func clash(a, b Wish) error {
	switch {
	case a.Driver != b.Driver || a.Bus != b.Bus:
		return fmt.Errorf("%s has two owners: probe %s reads it with %s, probe %s with %s: choose one", a.Chip, a.Probe, a.Driver, b.Probe, b.Driver)
	case a.Settings != b.Settings:
		return fmt.Errorf("%s cannot be set two ways: probe %s wants %s, probe %s wants %s", a.Chip, a.Probe, a.Settings, b.Probe, b.Settings)
	}
	return nil
}

func twice(wishes []Wish) []error {
	var errs []error
	count := map[sensors.ProbeID]int{}
	for _, w := range wishes {
		if count[w.Probe]++; count[w.Probe] == 2 {
			errs = append(errs, fmt.Errorf("probe id %s is given twice: an id is one sensor for ever", w.Probe))
		}
	}
	return errs
}

// ParseProbe finds a probe's driver and parses its table.
func ParseProbe(p garden.Probe) (Wish, error) {
	d, ok := Named(p.Source.Name)
	if !ok {
		return Wish{}, p.Source.Errorf("", "no driver %q: one of %s", p.Source.Name, names())
	}
	w, err := d.Parse(p)
	w.Driver = d.Name
	return w, err
}

func names() string {
	var list string
	for i, d := range All() {
		if i > 0 {
			list += ", "
		}
		list += d.Name
	}
	return list
}
