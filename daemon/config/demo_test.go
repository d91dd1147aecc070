package config_test

import (
	"testing"

	"lathwatch/daemon/config"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/model"
)

func TestTheDemoGardenIsAGarden(t *testing.T) {
	g, err := config.Parse("demo.toml", []byte(model.Demo))
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Pots) != 12 || len(g.Places) != 2 || len(g.Probes) < 25 {
		t.Errorf("%d pots, %d places, %d probes", len(g.Pots), len(g.Places), len(g.Probes))
	}
	regimes, classes := map[string]int{}, map[garden.Earliness]int{}
	var wishes []drivers.Wish
	for _, p := range g.Plants {
		regimes[p.Regime]++
		classes[p.Earliness]++
	}
	for _, p := range g.Probes {
		w, err := drivers.ParseProbe(p)
		if err != nil || p.Source.Name != "simulated" {
			t.Errorf("%s: %v", p.ID, err)
		}
		wishes = append(wishes, w)
	}
	if groups, err := drivers.Group(wishes); err != nil || len(groups) != 1 {
		t.Errorf("%d chips, %v", len(groups), err)
	}
	if regimes["dry-winter"] == 0 || regimes["wet-winter"] == 0 || classes[garden.Early] == 0 || classes[garden.Middle] == 0 || classes[garden.LateRiser] == 0 {
		t.Errorf("%v %v", regimes, classes)
	}
}
