package garden

import (
	"fmt"
	"strings"
)

var earlinessNames = [...]string{"unknown", "early", "middle", "late"}
var tenderNames = [...]string{"unknown", "hardy", "tender", "never-freeze"}

func (e Earliness) String() string { return earlinessNames[e] }
func (t Tender) String() string    { return tenderNames[t] }

// UnmarshalText reads "early", "middle" or "late".
func (e *Earliness) UnmarshalText(b []byte) error {
	i, err := word("earliness", string(b), earlinessNames[:])
	*e = Earliness(max(i, 0))
	return err
}

// UnmarshalText reads "hardy", "tender" or "never-freeze".
func (t *Tender) UnmarshalText(b []byte) error {
	i, err := word("tender", string(b), tenderNames[:])
	*t = Tender(max(i, 0))
	return err
}

func word(what, got string, known []string) (int, error) {
	for i, k := range known {
		if k == got {
			return i, nil
		}
	}
	return -1, fmt.Errorf("%s %q is not known: write one of %s", what, got, strings.Join(known, ", "))
}

// SafeID reports whether s may be an id: 1 to 40 of a-z, A-Z, 0-9 and hyphen, beginning with a letter or digit. Ids become
// topics, tags and file names; names never do.
func SafeID(s string) bool {
	if s == "" || len(s) > 40 || s[0] == '-' {
		return false
	}
	for i := range len(s) {
		c := s[i]
		if !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-') {
			return false
		}
	}
	return true
}

// Pot finds a pot by id.
func (g *Garden) Pot(id string) *Pot { return find(g.Pots, func(p *Pot) bool { return p.ID == id }) }

// Place finds a place by id.
func (g *Garden) Place(id string) *Place {
	return find(g.Places, func(p *Place) bool { return p.ID == id })
}

// Plant finds a plant by id.
func (g *Garden) Plant(id string) *Plant {
	return find(g.Plants, func(p *Plant) bool { return p.ID == id })
}

// Probe finds a probe by id.
func (g *Garden) Probe(id string) *Probe {
	return find(g.Probes, func(p *Probe) bool { return string(p.ID) == id })
}

func find[T any](s []T, is func(*T) bool) *T {
	for i := range s {
		if is(&s[i]) {
			return &s[i]
		}
	}
	return nil
}
