package config_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"lathwatch/daemon/config"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// owners stand in for the shelves, so that a broken file's message does not change when a shelf does.
// raws are compared whole.
var raws = cmpopts.EquateComparable(table.Raw{})

func owners() config.Options {
	type chip struct {
		Address string      `toml:"address"`
		Channel string      `toml:"channel"`
		Bits    int         `toml:"resolution"`
		Wait    *units.Span `toml:"wait"`
	}
	return config.Options{
		Driver: func(p garden.Probe) (drivers.Wish, error) {
			c := chip{Bits: 12}
			if p.Source.Name != "bench" && p.Source.Name != "bench-two" {
				return drivers.Wish{}, p.Source.Errorf("", "there is no driver %q: %s", p.Source.Name, table.Advice(p.Source.Name, []string{"bench", "bench-two"}))
			}
			err := table.Decode(p.Source, &c)
			return drivers.Wish{Chip: c.Address, Channel: c.Channel, Settings: "resolution " + units.Count.Number(int64(c.Bits))}, err
		},
		Rule: func(r table.Raw) error {
			var k struct {
				Days units.Span `toml:"dry-for"`
			}
			if r.Name != "water-light" {
				return r.Errorf("", "there is no rule %q: %s", r.Name, table.Advice(r.Name, []string{"water-light"}))
			}
			return table.Decode(r, &k)
		},
		Way: func(r table.Raw) error {
			var k struct {
				Broker string `toml:"broker"`
				TLS    struct {
					CA string `toml:"ca-file"`
				} `toml:"tls"`
			}
			return table.Decode(r, &k)
		},
	}
}

func TestBrokenGardensAreRefusedWithBlockLineAndAdvice(t *testing.T) {
	files, err := filepath.Glob("../../testdata/broken/*.toml")
	if err != nil || len(files) < 30 {
		t.Fatalf("%d broken gardens, %v", len(files), err)
	}
	for _, f := range files {
		name := filepath.Base(f)
		t.Run(strings.TrimSuffix(name, ".toml"), func(t *testing.T) {
			text, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			want, err := os.ReadFile(strings.TrimSuffix(f, ".toml") + ".want")
			if err != nil {
				t.Fatal(err)
			}
			g, err := owners().Parse(name, text)
			if err == nil || g != nil {
				t.Fatalf("taken: %+v", g)
			}
			if d := cmp.Diff(string(want), err.Error()+"\n", raws); d != "" {
				t.Errorf("(-want +got)\n%s", d)
			}
		})
	}
}

func TestGoodGardenIsReadWhole(t *testing.T) {
	g, err := owners().ParseFile("../../testdata/gardens/small.toml")
	if err != nil {
		t.Fatal(err)
	}
	zone, _ := time.LoadLocation("Europe/Dublin")
	from := time.Date(2026, 10, 4, 0, 0, 0, 0, zone).UTC()
	want := garden.Probe{ID: "D7-m", Measures: garden.PotMoisture, Pot: "D7", Depth: "half", Unit: units.Voltage, Line: 24, Every: 15 * time.Minute,
		Marks:  []garden.Mark{{From: from, Which: garden.DrainedFull, Raw: 1210000, Share: 1000}, {From: from, Which: garden.DriestAllowed, Raw: 2300000, Share: 200}},
		Limits: &garden.Limits{Low: 100000, High: 3300000},
		Source: table.Raw{Name: "bench", Path: "probe D7-m, bench", Line: 38, Body: "address = \"a\" # the left one\n\n"}}
	if d := cmp.Diff(want, *g.Probe("D7-m"), raws); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
	if got := g.Probe("table-air").Offset; len(got) != 2 || got[0].Add != -500 || got[1].Add != 300 || !got[1].From.Equal(from.AddDate(0, 0, 1)) {
		t.Errorf("offsets %+v", got)
	}
	if s := g.Site; s.ID != "brook" || s.Altitude != 118.872 || s.Every != 10*time.Minute || s.Clock != "trust" || !s.Fahrenheit || !math.IsNaN(s.Latitude) || s.Zone.String() != "Europe/Dublin" {
		t.Errorf("site %+v", s)
	}
	if p := g.Pot("D7"); p.Litres != 3000 || !p.Clay || p.Regime != "" || p.Relatives[0] != "D8" {
		t.Errorf("pot %+v", p)
	}
	if g.Normals.Mean[0] != 4.9 || g.Normals.Spread[0] != 0.5 {
		t.Errorf("normals %+v", g.Normals)
	}
	if d := cmp.Diff([]table.Raw{{Name: "water-light", Path: "rule water-light", Line: 55, Body: "dry-for = \"4 d\"\n\n"}}, g.Rules, raws); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
	if d := cmp.Diff("broker = \"tcp://192.0.2.7:1883\"\n[\"tls\"]\nca-file = \"ca.pem\"\n\n", g.Push[0].Body, raws); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
	if s := g.Services; s.Broker.Listen != "127.0.0.1:1883" || s.Page.Listen != "127.0.0.1:8642" || s.Backup.Keep != 3 || s.Influx.Body != "url = \"x\"\n" {
		t.Errorf("services %+v", s)
	}
}

func TestTheSameTextHasTheSameDigest(t *testing.T) {
	a, b := config.Digest([]byte("x = 1\n")), config.Digest([]byte("x = 2\n"))
	if a == b || a != config.Digest([]byte("x = 1\n")) || len(a) != 16 {
		t.Error(a, b)
	}
}

func TestAMissingFileSaysWhatWasAttempted(t *testing.T) {
	_, err := config.ParseFile("no-such.toml")
	if err == nil || !strings.HasPrefix(err.Error(), "reading the garden file: ") {
		t.Error(err)
	}
}
