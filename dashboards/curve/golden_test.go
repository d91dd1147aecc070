package curve

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors/garden"
)

var update = flag.Bool("update", false, "write the golden files anew")

// goldenSheet is a fortnight with everything a chart may hold.
func goldenSheet() *Sheet {
	cal := garden.Calendar{Zone: time.UTC}
	first := garden.Date(20_833) // 15 January 2027
	s := &Sheet{Cal: cal, Window: Window{From: cal.Start(first).Unix(), Until: cal.Start(first + 14).Unix(), Cols: 56, Gap: 3 * secondsADay}}
	sc := Scale{"°C", 1000, 0, 1}
	c := Chart{ID: "air", Title: "Air, Slatted shelter", About: "Lowest −8.3 °C.", Scale: sc, Low: -10_000, High: 15_000, Lines: []int64{-10_000, -5000, 0, 5000, 10_000, 15_000},
		Spells: []Spell{{Freezing, first + 2, first + 5, -8300}, {Warm, first + 8, first + 11, 9100}}, Spans: []Span{{cal.Start(first + 12).Unix(), cal.Start(first + 20).Unix(), "nose expected", false}},
		Zones: []Zone{{1000, 3000, "early"}}, Levels: []Level{{-3000, "root limit"}}, Marks: []Mark{{Noon(cal, first+9), "w", "watered, 150 mL <b>"}}}
	var bands []Band
	for i := range 14 {
		v := int64(3000 - (i-4)*(i-4)*20 - 9000/(1+(i-4)*(i-4)))
		bands = append(bands, Band{Noon(cal, first+garden.Date(i)), v, v + 5000})
	}
	w := c.window(s.Window)
	area, low, high := Ribbon(bands, w)
	c.Curves = []Curve{{AirRibbon, "", area}, {AirHigh, "day high", high}, {AirLow, "night low", low}}
	s.Charts = []Chart{c}
	return s
}

func TestGoldenPicture(t *testing.T) {
	golden(t, "sheet.svg", goldenSheet().Picture("Lower Tansy Bank, January 2027"))
	golden(t, "chart.svg.txt", goldenSheet().Draw(0))
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s: %s", name, d)
	}
}
