package config

import (
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// Further keys stand as "#key = ..."; prose stands as "# ...".
var further = regexp.MustCompile(`(?m)^#(\[|[a-z])`)

func wholeReference() string { return further.ReplaceAllString(Reference, "$1") }

func TestReferenceIsAGarden(t *testing.T) {
	for _, text := range []string{Reference, wholeReference()} {
		if _, err := Parse("reference.toml", []byte(text)); err != nil {
			t.Error(err)
		}
	}
}

// The manual names every key there is, in its own block, and no key there is not (the strict parse above).
func TestReferenceNamesEveryKey(t *testing.T) {
	lines, err := table.Lines(wholeReference())
	if err != nil {
		t.Fatal(err)
	}
	named := map[string]bool{}
	for _, l := range lines {
		named[strings.Join(l.Key, ".")] = true
	}
	for _, b := range blockKeys {
		for i := range reflect.TypeOf(b.keys).NumField() {
			tag := reflect.TypeOf(b.keys).Field(i).Tag.Get("toml")
			if tag != "" && !named[b.kind+"."+tag] {
				t.Errorf("the reference does not name %s.%s", b.kind, tag)
			}
		}
	}
	for _, k := range kinds {
		if !strings.Contains(Reference, shapes[k]) {
			t.Errorf("the reference does not name the block %s", shapes[k])
		}
	}
}

func TestReferenceNamesEveryWord(t *testing.T) {
	words := append(garden.MeasureNames(), "early", "middle", "late", "hardy", "tender", "never-freeze", "modest", "usual", "hungry", "plastic", "clay", "trust")
	for _, r := range garden.Regimes {
		words = append(words, r.Name)
	}
	for _, w := range words {
		if !regexp.MustCompile(`(^|[^a-z-])` + w + `($|[^a-z-])`).MatchString(Reference) {
			t.Errorf("the reference does not name the word %s", w)
		}
	}
}

// Defaults the manual states are the defaults in force.
func TestReferenceStatesTheDefaults(t *testing.T) {
	g, err := Parse("", []byte("[site]\nid = \"a\"\nzone = \"UTC\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	if g.Site.Every != 5*time.Minute || !strings.Contains(Reference, "; 5 min when missing") {
		t.Error("every")
	}
	r, err := Parse("reference.toml", []byte(Reference))
	if err != nil {
		t.Fatal(err)
	}
	if r.Services.Broker.Listen != g.Services.Broker.Listen || r.Services.Page.Listen != g.Services.Page.Listen || r.Services.Backup.Keep != g.Services.Backup.Keep {
		t.Errorf("%+v, %+v", r.Services, g.Services)
	}
}
