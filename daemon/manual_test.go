package daemon

import (
	"strings"
	"testing"

	"lathwatch/alerts/push"
	"lathwatch/alerts/rules"
	"lathwatch/daemon/config"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/table"
)

// owner is one block of the garden file that somebody outside config decodes.
type owner struct {
	block   string
	example string // the block's own keys
	ask     func(table.Raw) error
}

func owners() []owner {
	var all []owner
	for _, d := range drivers.All() {
		_, own, _ := strings.Cut(d.Example, "[probe."+d.Name+"]\n")
		all = append(all, owner{"[probe." + d.Name + "]", own, driverKeys(d)})
	}
	for _, r := range rules.All() {
		_, own, _ := strings.Cut(r.Example, "]\n")
		all = append(all, owner{"[rule." + r.Kind + "]", own, ruleKeys(r)})
	}
	for _, w := range push.All() {
		all = append(all, owner{"[push." + w.Name + "]", w.Example, wayKeys(w)})
	}
	return append(all, owner{"[influx]", "url = \"http://127.0.0.1:8086\"\nbucket = \"garden\"\n", influxKeys})
}

// The manual as a whole is a garden file that passes.
func TestManualIsAGarden(t *testing.T) {
	if _, err := config.Parse("manual.toml", []byte(Manual())); err != nil {
		t.Error(err)
	}
}

// Every key that an owner's decoder takes stands under its block with a word of what it means. The decoder itself is the witness:
// asked for a key that is near none, it lists all it knows.
func TestManualNamesEveryKeyOfEveryOwner(t *testing.T) {
	manual := Manual()
	for _, o := range owners() {
		at := strings.LastIndex(manual, o.block+"\n")
		if at < 0 {
			t.Errorf("the manual has no %s", o.block)
			continue
		}
		part, _, _ := strings.Cut(manual[at:], "\n\n# ")
		err := o.ask(table.Raw{Name: "x", Path: "x", Line: 1, Body: "qqqqqqqqqqqq = 1\n"})
		if err == nil {
			t.Errorf("%s takes any key", o.block)
			continue
		}
		for _, name := range listed(err.Error()) {
			if !strings.Contains(part, "#   "+name+" ") {
				t.Errorf("%s: the manual does not name %s", o.block, name)
			}
		}
		for _, k := range table.Keys(o.ask) {
			if k.Help == "" {
				t.Errorf("%s: nothing says what %s means", o.block, k.Name)
			}
		}
	}
}

// listed reads "... write one of a, b, c" or "write a".
func listed(advice string) []string {
	if _, all, ok := strings.Cut(advice, "write one of "); ok {
		return strings.Split(strings.TrimSpace(all), ", ")
	}
	if _, one, ok := strings.Cut(advice, "known here: write "); ok {
		return []string{strings.TrimSpace(one)}
	}
	return nil
}

// A default the manual prints is what the block has without the key: written out, it changes nothing and is taken.
func TestManualsDefaultsAreTaken(t *testing.T) {
	for _, o := range owners() {
		var body strings.Builder
		for _, k := range table.Keys(o.ask) {
			if k.Default != "" && !strings.Contains(k.Name, ".") && !strings.Contains(o.example, k.Name+" =") {
				body.WriteString(k.Name + " = " + k.Default + "\n")
			}
		}
		err := o.ask(table.Raw{Name: "x", Path: "x", Line: 1, Body: body.String()})
		if err != nil && (strings.Contains(err.Error(), "not known") || strings.Contains(err.Error(), "unit")) {
			t.Errorf("%s: %v\n%s", o.block, err, body.String())
		}
	}
}
