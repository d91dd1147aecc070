package daemon

import (
	"fmt"
	"strings"
)

// faultPots is how many pots the garden of faults has; with what measures the places it has 60 probes.
const faultPots = 22

// faultGarden is an invented garden of 60 probes in three places. A third of the moisture probes speak percent, a third volts and a
// third counts; every pot has a thermometer of its own, the shaded wall has two.
func faultGarden(every string) string {
	kinds := []struct{ id, regime, early, tender string }{
		{"segawai", "dry-winter", "early", "tender"}, {"franchetii", "dry-winter", "middle", "tender"}, {"fargesii", "dry-winter", "late", "never-freeze"},
		{"macranthos", "dry-winter", "middle", "hardy"}, {"parviflorum", "wet-winter", "middle", "hardy"}, {"reginae", "wet-winter", "late", "hardy"},
		{"acaule", "wet-winter", "early", "hardy"}, {"tibeticum", "bone-dry", "middle", "tender"}}
	var b strings.Builder
	fmt.Fprintf(&b, "[site]\nid = \"hazel-end\"\nname = \"Hazel End\"\nlatitude = 54.2\nlongitude = 10.1\nzone = \"Europe/Berlin\"\nevery = %q\n", every)
	b.WriteString("[[place]]\nid = \"table\"\nname = \"under the table\"\nroof = true\n[[place]]\nid = \"wall\"\nname = \"at the wall\"\nshaded = true\n" +
		"[[place]]\nid = \"bench\"\nname = \"on the bench\"\n")
	for _, k := range kinds {
		fmt.Fprintf(&b, "[[plant]]\nid = %q\nname = %q\nregime = %q\nearliness = %q\ntender = %q\n", k.id, k.id, k.regime, k.early, k.tender)
	}
	probe := func(id, measures, key, at, more string) {
		fmt.Fprintf(&b, "[[probe]]\nid = %q\nmeasures = %q\n%s = %q\n%s", id, measures, key, at, more)
	}
	for i := range faultPots {
		id, k := fmt.Sprintf("P%02d", i), kinds[i%len(kinds)]
		place := "wall"
		if k.regime == "wet-winter" && i%3 == 0 {
			place = "bench"
		}
		fmt.Fprintf(&b, "[[pot]]\nid = %q\nplant = %q\nplace = %q\nvolume = %q\nmaterial = %q\nmix = \"pumice 3-8 mm\"\n",
			id, k.id, place, []string{"3 L", "1.5 L", "5 L"}[i%3], []string{"plastic", "clay", "plastic", "plastic"}[i%4])
		marks := []string{"unit = \"%\"\n", "drained-full = \"1.20 V\"\ndriest-allowed = \"2.32 V\"\ndriest-share = \"20 %\"\n",
			"unit = \"counts\"\ndrained-full = \"410 counts\"\ndriest-allowed = \"738 counts\"\ndriest-share = \"20 %\"\n"}[i%3]
		probe(id+"-m", "pot-moisture", "pot", id, marks)
		probe(id+"-t", "pot-temperature", "pot", id, "")
	}
	for _, place := range []string{"table", "wall", "bench"} {
		probe(place+"-air", "air-temperature", "place", place, "")
		probe(place+"-rh", "air-humidity", "place", place, "")
		probe(place+"-pack", "battery", "place", place, "")
	}
	probe("wall-spare", "air-temperature", "place", "wall", "")
	probe("table-sun", "light", "place", "table", "")
	probe("bench-rain", "rain", "place", "bench", "")
	probe("wall-wind", "wind", "place", "wall", "")
	probe("wall-sun", "light", "place", "wall", "")
	probe("wall-baro", "air-pressure", "place", "wall", "")
	probe("wall-low", "forecast-min", "place", "wall", "every = \"1 h\"\n")
	return b.String()
}
