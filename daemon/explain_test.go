package daemon_test

import (
	"strings"
	"testing"

	"lathwatch/daemon"
	"lathwatch/sensors/model"
)

func explained(t *testing.T, text string) string {
	t.Helper()
	g, err := daemon.ParseGarden("garden.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(daemon.Explain(g), "\n")
}

func TestExplainNamesThreeStepsAtMostTheMostUsefulFirst(t *testing.T) {
	for name, text := range map[string]string{"demo": model.Demo, "bare": "[site]\nid = \"x\"\nzone = \"UTC\"\n", "latitude": "[site]\nid = \"x\"\nzone = \"UTC\"\nlatitude = 50.0\n"} {
		got := explained(t, text)
		if n := strings.Count(got, "\n  1. ") + strings.Count(got, "\n  2. ") + strings.Count(got, "\n  3. "); n > 3 || strings.Contains(got, "  4. ") || !strings.Contains(got, "Still a guess:") {
			t.Errorf("%s: %s", name, got)
		}
	}
	if got := explained(t, "[site]\nid = \"x\"\nzone = \"UTC\"\n"); !strings.Contains(got, "1. Write latitude and longitude") {
		t.Error(got)
	}
	demo := explained(t, model.Demo)
	for _, want := range []string{"under the table (under a roof): 0 pots; air measured.", "at the wall (under the open sky, the shaded reference): 12 pots; air measured.", "7 pots wintered dry-winter.", "1. Name a way out"} {
		if !strings.Contains(demo, want) {
			t.Errorf("lacks %q:\n%s", want, demo)
		}
	}
}

func TestEveryStarterFilePasses(t *testing.T) {
	for _, b := range []daemon.Beginning{{ID: "a", Latitude: 54.2, Longitude: -6.4, Zone: "Europe/Dublin", Dry: 3, Wet: 3}, {ID: "b", Name: `the "yard" \ ünder`, Latitude: -43.6, Longitude: 172, Zone: "Pacific/Auckland"},
		{ID: "c", Latitude: 0, Longitude: 0, Zone: "UTC", Dry: 100, Wet: 100}} {
		text, err := b.Text()
		if err != nil {
			t.Fatal(err)
		}
		g, err := daemon.ParseGarden("garden.toml", []byte(text))
		if err != nil {
			t.Errorf("%v\n%s", err, text)
			continue
		}
		if len(g.Pots) != b.Dry+b.Wet || b.Name != "" && g.Site.Name != b.Name {
			t.Errorf("%d pots, %q", len(g.Pots), g.Site.Name)
		}
		// Keys that are commented out are keys there are: with their marks taken away the file still passes.
		open := strings.NewReplacer("\n#[normals]", "\n[normals]", "\n#mean", "\nmean", "\n#spread", "\nspread", "\n#earliness", "\nearliness", "\n#tender", "\ntender", "\n#hunger", "\nhunger",
			"\n#mix", "\nmix", "\n#relatives", "\nrelatives", "\n#folder", "\nfolder").Replace(text)
		if _, err := daemon.ParseGarden("garden.toml", []byte(open)); err != nil || open == text {
			t.Errorf("with its comments opened: %v", err)
		}
	}
}

func TestExplainNamesAMixTooOrganicAndAnUnwrittenWayOfFeeding(t *testing.T) {
	text := "[site]\nid = \"x\"\nzone = \"UTC\"\nlatitude = 50.0\n[[place]]\nid = \"t\"\n[[plant]]\nid = \"p\"\n[[pot]]\nid = \"A1\"\nplant = \"p\"\nplace = \"t\"\nmix = \"pumice, 20 % bark\"\n"
	got := explained(t, text)
	for _, want := range []string{"Not advised:\n  A1 stands in a mix 20 % organic", "How you feed"} {
		if !strings.Contains(got, want) {
			t.Errorf("lacks %q:\n%s", want, got)
		}
	}
	if got := explained(t, strings.Replace(text, ", 20 % bark", "", 1)+"[feed]\ngranules = \"2 g/L\"\n"); strings.Contains(got, "Not advised") || strings.Contains(got, "How you feed") {
		t.Error(got)
	}
}
