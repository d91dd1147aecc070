package daemon

import (
	"fmt"
	"strings"

	"lathwatch/alerts/push"
	"lathwatch/alerts/rules"
	"lathwatch/daemon/config"
	"lathwatch/daemon/influx"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// Manual lists every key a garden file may have: the commented reference, then each driver's block, each rule's settings, each
// way out and the forwarder, all read off the structs that decode them, with the defaults in force.
func Manual() string {
	var b strings.Builder
	b.WriteString(config.Reference)
	b.WriteString("\n# Drivers and their blocks. A value in brackets holds when the key is missing.\n")
	for _, d := range drivers.All() {
		fmt.Fprintf(&b, "\n# %s: %s\n", d.Name, d.Doc)
		for line := range strings.Lines(d.Example) {
			b.WriteString("#   " + line)
		}
		keys(&b, table.Keys(driverKeys(d)))
	}
	b.WriteString("\n# Rules and their settings.\n")
	for _, r := range rules.All() {
		fmt.Fprintf(&b, "\n# %s\n%s", r.Doc, r.Example)
		keys(&b, table.Keys(ruleKeys(r)))
	}
	b.WriteString("\n# Ways out and their keys.\n")
	for _, w := range push.All() {
		fmt.Fprintf(&b, "\n# %s\n[push.%s]\n%s", w.Doc, w.Name, strings.ReplaceAll(w.Example, "\n[", "\n[push."+w.Name+"."))
		keys(&b, table.Keys(wayKeys(w)))
	}
	b.WriteString("\n# Forwarding to a time-series server.\n\n[influx]\n" + influx.Example)
	keys(&b, table.Keys(influxKeys))
	return b.String()
}

func driverKeys(d drivers.Driver) func(table.Raw) error {
	return func(r table.Raw) error {
		_, err := d.Parse(garden.Probe{ID: "asked", Source: r})
		return err
	}
}

func ruleKeys(e rules.Entry) func(table.Raw) error {
	return func(r table.Raw) error {
		_, err := e.Build(r)
		return err
	}
}

func wayKeys(w push.Way) func(table.Raw) error {
	return func(r table.Raw) error {
		_, err := w.Open(r, push.Env{})
		return err
	}
}

func influxKeys(r table.Raw) error {
	_, err := influx.Read(r, "")
	return err
}

// keys writes a list of keys as comments.
func keys(b *strings.Builder, all []table.Key) {
	wide := 0
	for _, k := range all {
		wide = max(wide, len(k.Name))
	}
	for i, k := range all {
		if i == 0 {
			b.WriteString("#\n")
		}
		fmt.Fprintf(b, "#   %-*s  %s", wide, k.Name, k.Help)
		if k.Default != "" && k.Default != `"asked"` {
			fmt.Fprintf(b, " [%s]", k.Default)
		}
		b.WriteString("\n")
	}
}
