package config_test

import (
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode"

	"lathwatch/daemon/config"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// FuzzGarden: a garden file is either refused with findings that name lines of it, or is a garden that holds together; a line more
// above it moves every finding by one and changes nothing else.
func FuzzGarden(f *testing.F) {
	f.Add(config.Reference)
	for _, glob := range []string{"../../testdata/broken/*.toml", "../../testdata/gardens/*.toml"} {
		files, _ := filepath.Glob(glob)
		for _, file := range files {
			text, err := os.ReadFile(file)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(string(text))
		}
	}
	f.Add("[site]\nid = \"a\"\nzone = \"UTC\"\nname = \"a\\u0000\\n[x]\"\n[page]\nlisten = \"[::]:1\"\npassphrase-file = \"x\"\n")
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) > 8000 {
			return
		}
		g, err := owners().Parse("garden.toml", []byte(text))
		if (g == nil) != (err != nil) {
			t.Fatalf("garden %v beside error %v", g != nil, err)
		}
		below, errBelow := owners().Parse("garden.toml", []byte("\n"+text))
		if (below == nil) != (g == nil) {
			t.Fatalf("an empty line above changes the verdict from %v to %v", err, errBelow)
		}
		if g == nil {
			findings(t, text, table.List(err), table.List(errBelow))
			return
		}
		holdsTogether(t, g)
	})
}

func findings(t *testing.T, text string, found, moved []*table.Error) {
	lines := strings.Count(text, "\n") + 1
	if len(found) == 0 || len(found) != len(moved) {
		t.Fatalf("%d findings, %d below an empty line", len(found), len(moved))
	}
	for i, e := range found {
		if e.File != "garden.toml" || e.Line < 0 || e.Line > lines+1 || // a block without a key is named by the line behind its header
			e.Say == "" || i > 0 && e.Line < found[i-1].Line {
			t.Errorf("of %d lines: %+v", lines, e)
		}
		if m := moved[i]; e.Line > 0 && (m.Line != e.Line+1 || m.Key != e.Key || m.Path != e.Path) {
			t.Errorf("%v becomes %v below an empty line", e, m)
		}
	}
}

func holdsTogether(t *testing.T, g *garden.Garden) {
	if g.Site.Zone == nil || g.Site.Every < time.Minute || time.Hour%g.Site.Every != 0 || !garden.SafeID(g.Site.ID) {
		t.Errorf("site %+v", g.Site)
	}
	ids := map[string]bool{}
	said := []string{g.Site.Name}
	for i := range g.Places {
		ids["place "+g.Places[i].ID] = true
		said = append(said, g.Places[i].Name, g.Places[i].Facing)
	}
	for i := range g.Plants {
		ids["plant "+g.Plants[i].ID] = true
		said = append(said, g.Plants[i].Name)
	}
	for i := range g.Pots {
		p := &g.Pots[i]
		ids["pot "+p.ID] = true
		said = append(said, p.Mix)
		if !ids["place "+p.Place] || p.Plant != "" && !ids["plant "+p.Plant] || p.Litres < 0 || p.Litres > 200_000 {
			t.Errorf("pot %+v", p)
		}
	}
	for i := range g.Probes {
		p := &g.Probes[i]
		ids["probe "+string(p.ID)] = true
		said = append(said, p.Depth)
		if p.Pot != "" && !ids["pot "+p.Pot] || p.Place != "" && !ids["place "+p.Place] || p.Pot != "" && p.Place != "" {
			t.Errorf("probe %+v", p)
		}
	}
	if len(ids) != len(g.Places)+len(g.Plants)+len(g.Pots)+len(g.Probes) {
		t.Error("two of one kind share an id")
	}
	for id := range ids {
		if _, name, _ := strings.Cut(id, " "); !garden.SafeID(name) {
			t.Errorf("%q passed", id)
		}
	}
	for _, s := range said {
		if strings.ContainsFunc(s, unicode.IsControl) {
			t.Errorf("the name %q holds a control character", s)
		}
	}
	doors(t, &g.Services)
}

// doors: nothing listens where others can reach it without asking for a secret.
func doors(t *testing.T, s *garden.Services) {
	for _, d := range []struct{ listen, secret string }{{s.Page.Listen, s.Page.PassphraseFile}, {s.Broker.Listen, s.Broker.PasswordFile}} {
		host, _, err := net.SplitHostPort(d.listen)
		ip, perr := netip.ParseAddr(host)
		if err != nil || d.secret == "" && host != "localhost" && (perr != nil || !ip.IsLoopback()) {
			t.Errorf("it would listen on %q without a secret (%v)", d.listen, err)
		}
	}
}
