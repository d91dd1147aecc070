package config

import (
	"cmp"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"slices"
	"time"
	_ "time/tzdata" // a board without zone files still knows its zone

	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// Reference is a commented garden.toml that names every key there is. Lines that begin with # and a key directly behind it
// are further keys one may write.
//
//go:embed reference.toml
var Reference string

// Options are the owners who judge the raw tables.
type Options struct {
	Driver func(garden.Probe) (drivers.Wish, error) // nil: the shelf of drivers
	Rule   func(table.Raw) error                    // nil: rules' tables are not looked into
	Way    func(table.Raw) error                    // nil: ways' tables are not looked into
}

// Parse reads a garden file's text; name is what errors call it. With an error there is no garden; the error joins every
// finding, each a *table.Error, in order of lines. Rules' and ways' own tables are cut out and not looked into: see Options.
func Parse(name string, text []byte) (*garden.Garden, error) { return Options{}.Parse(name, text) }

// ParseFile is Parse of a file.
func ParseFile(path string) (*garden.Garden, error) { return Options{}.ParseFile(path) }

// ParseFile is Parse of a file.
func (o Options) ParseFile(path string) (*garden.Garden, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("reading the garden file: %w", err)
	}
	return o.Parse(path, text)
}

// Parse is the package's Parse with owners who judge the raw tables too.
func (o Options) Parse(name string, text []byte) (*garden.Garden, error) {
	if o.Driver == nil {
		o.Driver = fromShelf
	}
	r := &reader{options: o, garden: &garden.Garden{}, seen: map[string]int{}, raws: map[string]table.Raw{}}
	r.garden.Site.Zone = time.UTC
	blocks, err := cut(string(text), r.find)
	r.find(err)
	if err != nil && len(blocks) > 0 {
		blocks = blocks[:len(blocks)-1] // the text stops being TOML inside the last one
	}
	slices.SortStableFunc(blocks, func(a, b *block) int { return bool2int(b.kind == "site") - bool2int(a.kind == "site") }) // its zone reads every date
	for _, b := range blocks {
		r.block(b)
	}
	if err == nil { // with half a file every reference would be found missing
		r.whole()
	}
	if len(r.found) == 0 {
		return r.garden, nil
	}
	slices.SortStableFunc(r.found, func(a, b *table.Error) int { return cmp.Compare(a.Line, b.Line) })
	all := make([]error, len(r.found))
	for i, e := range r.found {
		e.File = name
		all[i] = e
	}
	return nil, errors.Join(all...)
}

// Digest names a garden file's text: the same text has the same digest on every machine.
func Digest(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// reader gathers a garden and the findings about it.
type reader struct {
	options Options
	garden  *garden.Garden
	found   []*table.Error
	seen    map[string]int       // single blocks and their lines
	raws    map[string]table.Raw // "pot D7" and the like, for findings made later
	probes  []probeKeys
}

func (r *reader) find(err error) { r.found = append(r.found, table.List(err)...) }

func bool2int(b bool) int {
	if b {
		return 1
	}
	return 0
}

func fromShelf(p garden.Probe) (drivers.Wish, error) {
	d, ok := drivers.Named(p.Source.Name)
	if !ok {
		var names []string
		for _, d := range drivers.All() {
			names = append(names, d.Name)
		}
		return drivers.Wish{}, p.Source.Errorf("", "there is no driver %q: %s", p.Source.Name, table.Advice(p.Source.Name, names))
	}
	return d.Parse(p)
}
