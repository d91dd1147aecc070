package alerts

import (
	"testing"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// A call for water that was answered no longer makes the first line, though it still stands; a pot still dry does.
func TestAnAnsweredCallForWaterLeavesTheFirstLine(t *testing.T) {
	at := time.Date(2027, 5, 14, 12, 0, 0, 0, time.UTC)
	call := at.Add(-72 * time.Hour)
	g := &garden.Garden{Pots: []garden.Pot{{ID: "E1"}, {ID: "W4"}}}
	st := &Standing{Garden: g, At: at, Alerts: []Alert{{Kind: "water", Subject: "E1", Pots: []string{"E1"}, Since: call}, {Kind: "water", Subject: "W4", Pots: []string{"W4"}, Since: call}}}
	for i := range g.Pots {
		st.Pots = append(st.Pots, PotStanding{Pot: &g.Pots[i], Regime: garden.RegimeNamed("wet-winter"), Phase: garden.Growth, WetnessOK: true, Wetness: 300})
	}
	for _, c := range []struct {
		name     string
		e1       units.PerMilleFull
		watered  time.Time
		sentence string
	}{
		{"nobody watered", 300, time.Time{}, "Water E1 and W4 today."},
		{"watered before the call", 560, call.Add(-time.Hour), "Water E1 and W4 today."},
		{"watered since, and still under the limit", 500, call.Add(time.Hour), "Water E1 and W4 today."},
		{"watered since", 700, call.Add(time.Hour), "Water W4 today."},
		{"rained on", 860, time.Time{}, "Water W4 today."},
	} {
		st.Pots[0].Wetness, st.Pots[0].Watered = c.e1, c.watered
		if got := Sentence(st); got != c.sentence {
			t.Errorf("%s: %q, want %q", c.name, got, c.sentence)
		}
	}
}
