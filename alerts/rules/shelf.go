package rules

import (
	"cmp"
	"slices"

	"lathwatch/alerts"
	"lathwatch/sensors/table"
)

// An Entry is one rule of the shelf before its settings are known.
type Entry struct {
	Kind    string
	Doc     string // the rule of thumb behind it, with its source's grade
	Example string // a [rule.<kind>] block that passes
	// Build reads the settings table (zero: defaults) and gives the rule.
	Build func(r table.Raw) (alerts.Rule, error)
}

var shelf []Entry

func add(e Entry) { shelf = append(shelf, e) }

// All lists the rules, sorted by kind.
func All() []Entry {
	all := slices.Clone(shelf)
	slices.SortFunc(all, func(a, b Entry) int { return cmp.Compare(a.Kind, b.Kind) })
	return all
}

// Named finds a rule.
func Named(kind string) (Entry, bool) {
	i := slices.IndexFunc(shelf, func(e Entry) bool { return e.Kind == kind })
	if i < 0 {
		return Entry{}, false
	}
	return shelf[i], true
}

// Build gives every rule, with the settings found in the garden's tables.
func Build(tables []table.Raw) ([]alerts.Rule, error) {
	var rules []alerts.Rule
	for _, e := range All() {
		var raw table.Raw
		if i := slices.IndexFunc(tables, func(r table.Raw) bool { return r.Name == e.Kind }); i >= 0 {
			raw = tables[i]
		}
		r, err := e.Build(raw)
		if err != nil {
			return nil, err
		}
		rules = append(rules, r)
	}
	return rules, nil
}

// settings decodes a rule's table over its defaults.
func settings[T any](raw table.Raw, defaults T) (T, error) {
	if raw.Zero() {
		return defaults, nil
	}
	err := table.Decode(raw, &defaults)
	return defaults, err
}
