package rules

import (
	"strings"
	"testing"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// The message gives grams only once the keeper wrote a rate down, never more than the label's, and always names the label.
func TestTheDressingMessageGivesTheDoseAndItsLabel(t *testing.T) {
	for name, c := range map[string]struct {
		feed   garden.Feeding
		second units.Volume
		want   string
	}{
		"nothing written":   {garden.Feeding{}, 3000, "with granules by the label's rate and soak"},
		"a rate":            {garden.Feeding{Granules: 2}, 3000, "with granules, 6.0 g a pot, never over the label's rate, and soak"},
		"the label is less": {garden.Feeding{Granules: 2, GranulesLabel: 1.5}, 3000, "with granules, 4.5 g a pot, the label's most, and soak"},
		"pots of two sizes": {garden.Feeding{Granules: 2}, 1000, "with granules, 2 g for each litre of pot, never over the label's rate, and soak"},
		"a pot of no size":  {garden.Feeding{Granules: 2}, 0, "with granules, 2 g for each litre of pot, never over the label's rate, and soak"},
	} {
		g := groupOf("dress-now", 2, "nose", false)
		g.St.Garden.Feed = c.feed
		g.St.Pots[1].Pot.Litres = c.second
		if got := alerts.SayDressNow(g); !strings.Contains(got, c.want) {
			t.Errorf("%s: %s", name, got)
		}
	}
}
