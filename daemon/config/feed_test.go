package config_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/daemon/config"
	"lathwatch/sensors/garden"
)

const feedHead = "[site]\nid = \"a\"\nzone = \"UTC\"\n\n[feed]\n"

func TestAWayOfFeedingIsReadWhole(t *testing.T) {
	g, err := config.Parse("garden.toml", []byte(feedHead+`granules = "1.5 g/L"
granules-label = "4 g/L"
granules-nitrogen = "16 %"
soak = "250 mL/L"
liquid = "80 mg/L"
liquid-label = "2 mL/L"
liquid-nitrogen = "6 %"
modest = {every = "28 d"}
[feed.hungry]
every = "9 d"
feeds = 12
stop = "08-15"
`))
	if err != nil {
		t.Fatal(err)
	}
	want := garden.Feeding{Granules: 1.5, GranulesLabel: 4, GranulesN: 16, Soak: 250, Liquid: 80, LiquidLabel: 2, LiquidN: 6, Modest: garden.FeedGroup{Every: 28},
		Hungry: garden.FeedGroup{Every: 9, Feeds: 12, Until: garden.MonthDay{Month: time.August, Day: 15}}}
	if d := cmp.Diff(want, g.Feed); d != "" {
		t.Error(d)
	}
}

func TestABrokenWayOfFeedingIsNamedByLine(t *testing.T) {
	for _, c := range []struct{ text, say string }{
		{`granules = 2`, `granules`},
		{`granules = "2"`, `write "2 g/L"`},
		{`granules = "900 g/L"`, `at most 20 g/L`},
		{`granules = "2 mL/L"`, `write a number and g/L`},
		{"granules = \"5 g/L\"\ngranules-label = \"4 g/L\"", `more than the label allows (4 g/L)`},
		{"liquid = \"130 mg/L\"\nliquid-label = \"2 mL/L\"\nliquid-nitrogen = \"6 %\"", `more than the label allows (120 mg/L)`},
		{`liquid-label = "2 mL/L"`, `liquid-nitrogen`},
		{`hungry = {every = "36 h"}`, `whole days`},
		{`hungry = {stop = "13-01"}`, `month first`},
		{`hungry = {stop = "02-29"}`, `month first`},
		{`hungry = {feeds = -1}`, `1 to 100`},
		{`greedy = {feeds = 1}`, `greedy`},
	} {
		_, err := config.Parse("garden.toml", []byte(feedHead+c.text+"\n"))
		if err == nil || !strings.Contains(err.Error(), c.say) || !strings.Contains(err.Error(), "garden.toml line ") {
			t.Errorf("%s: %v", c.text, err)
		}
	}
}
