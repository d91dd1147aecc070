package daemon

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"lathwatch/alerts/push"
	"lathwatch/alerts/rules"
	"lathwatch/daemon/config"
	"lathwatch/daemon/influx"
	"lathwatch/sensors/bus"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// ParseGarden reads a garden file's text with everybody's tables looked into: drivers', rules' and ways'. The error joins every
// finding with block and line.
func ParseGarden(name string, text []byte) (*garden.Garden, error) {
	g, err := config.Options{Rule: checkRule, Way: checkWay}.Parse(name, text)
	if err != nil {
		return nil, err
	}
	var found []error
	if !g.Services.Influx.Zero() {
		_, err = influx.Read(g.Services.Influx, g.Site.ID)
		for _, e := range table.List(err) {
			e.File = name
			found = append(found, e)
		}
	}
	if err := errors.Join(append(found, bus.Clashes(wishes(g))...)...); err != nil {
		return nil, err
	}
	return g, nil
}

// wishes lists what the garden's probes want of the board; config has refused those that cannot be read.
func wishes(g *garden.Garden) (all []drivers.Wish) {
	for _, p := range g.Probes {
		if p.Source.Zero() {
			continue
		}
		if w, err := drivers.ParseProbe(p); err == nil {
			all = append(all, w)
		}
	}
	return all
}

// ReadGarden is ParseGarden of a file; it also gives the text.
func ReadGarden(path string) (*garden.Garden, string, error) {
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, "", fmt.Errorf("%w (lathwatch begin writes a starter garden)", err)
	}
	if err != nil {
		return nil, "", err
	}
	g, err := ParseGarden(path, text)
	return g, string(text), err
}

func checkRule(r table.Raw) error {
	e, ok := rules.Named(r.Name)
	if !ok {
		var known []string
		for _, e := range rules.All() {
			known = append(known, e.Kind)
		}
		return r.Errorf("", "there is no rule %q: %s", r.Name, table.Advice(r.Name, known))
	}
	_, err := e.Build(r)
	return err
}

func checkWay(r table.Raw) error {
	var known []string
	for _, w := range push.All() {
		if w.Name == r.Name {
			_, err := w.Open(r, push.Env{Site: "check", Local: Nowhere{}})
			return err
		}
		known = append(known, w.Name)
	}
	return r.Errorf("", "there is no way out called %q: %s", r.Name, table.Advice(r.Name, known))
}

// Nowhere stands in for the broker inside while a garden file is only looked over.
type Nowhere struct{}

// Publish drops a message.
func (Nowhere) Publish(string, []byte, bool, byte) error { return nil }

// Subscribe hears nothing.
func (Nowhere) Subscribe(string, func(string, []byte, bool)) error { return nil }

// Asks says that nobody may publish.
func (Nowhere) Asks() bool { return false }
