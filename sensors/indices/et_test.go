package indices

import (
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"testing"

	"lathwatch/sensors/checks"

	"github.com/google/go-cmp/cmp"
)

func TestFAO56RadiationExamples(t *testing.T) {
	var in struct {
		Lat float64
		J   int
	}
	checks.Input(t, "et-fao8", &in)
	d := SunDay{in.Lat, in.J}
	checks.Is(t, "et-fao8", map[string]float64{"dr": d.Distance(), "delta": d.Declination(), "ws": d.SunsetAngle(), "Ra": d.Extraterrestrial()})
	checks.Input(t, "et-fao9", &in)
	checks.Is(t, "et-fao9", SunDay{in.Lat, in.J}.Daylight())
}

func TestTheMissingDataExampleOfFAO56(t *testing.T) {
	var in struct {
		Tmax, Tmin, Lat, Z float64
		J                  int
	}
	checks.Input(t, "et-fao20-parts", &in)
	ra := SunDay{in.Lat, in.J}.Extraterrestrial()
	checks.Is(t, "et-fao20-parts", map[string]float64{
		"Ra": ra, "Rs": RadiationOfRange(ra, in.Tmax-in.Tmin, 0.16), "ea": SaturationFAO(in.Tmin), "P": PressureAt(in.Z)})

	var hs struct{ Ra float64 }
	checks.Input(t, "et-fao20-hs", &hs)
	checks.Is(t, "et-fao20-hs", HargreavesSamani((in.Tmax+in.Tmin)/2, in.Tmax, in.Tmin, hs.Ra))

	var mehta struct{ Tmin, Tmax, Tmean, Ra float64 }
	checks.Input(t, "et-mehta", &mehta)
	checks.Is(t, "et-mehta", HargreavesSamani(mehta.Tmean, mehta.Tmax, mehta.Tmin, mehta.Ra))
}

func byMonth(t *testing.T, id string, f func(SunDay) float64) []float64 {
	t.Helper()
	var in struct {
		Lat float64
		J   []int
	}
	checks.Input(t, id, &in)
	var out []float64
	for _, j := range in.J {
		out = append(out, f(SunDay{in.Lat, j}))
	}
	return out
}

func TestTablesOfRadiationAndDaylight(t *testing.T) {
	ra := func(id string) []float64 { return byMonth(t, id, SunDay.Extraterrestrial) }
	checks.Is(t, "et-t26-0", ra("et-t26-0"))
	checks.Is(t, "et-t26--20", ra("et-t26--20"))
	checks.Is(t, "et-t26--40", ra("et-t26--40"))
	checks.Is(t, "et-t26--50", ra("et-t26--50"))
	checks.Is(t, "et-t26-60", ra("et-t26-60"))
	n := func(id string) []float64 { return byMonth(t, id, SunDay.Daylight) }
	checks.Is(t, "et-t27--20", n("et-t27--20"))
	checks.Is(t, "et-t27--40", n("et-t27--40"))
	checks.Is(t, "et-t27--50", n("et-t27--50"))
}

// The table as passed on prints 36.5 for May at 60° north, equation 21 gives 36.66 (and 36.27 at 62°, where 36.5 is printed
// again: a slip in copying, it seems). That cell has a wider tolerance in the check file; this holds it to be the only one.
func TestTheSlipInTheRadiationTableIsOneCell(t *testing.T) {
	rows, err := csv.NewReader(checks.Data(t, "fao56_annex_ra_n_rows.csv")).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	middle := [12]int{15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349}
	var slips []string
	cells := 0
	for _, r := range rows[1:] {
		lat, err := strconv.ParseFloat(r[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		f, within := SunDay.Extraterrestrial, 0.11 // the next worst cell, 58° in September, is off by 0.107
		if r[0] == "2.7_N_h" {
			f, within = SunDay.Daylight, 0.055
		}
		for m, j := range middle {
			printed, err := strconv.ParseFloat(r[2+m], 64)
			if err != nil {
				t.Fatal(err)
			}
			cells++
			if got := f(SunDay{lat, j}); math.Abs(got-printed) > within {
				slips = append(slips, fmt.Sprintf("%s at %v° in month %d: %.2f for %v", r[0], lat, m+1, got, printed))
			}
		}
	}
	t.Logf("%d cells", cells)
	if diff := cmp.Diff([]string{"2.6_Ra_MJ at 60° in month 5: 36.66 for 36.5"}, slips); diff != "" {
		t.Errorf("cells off (-expected +got):\n%s", diff)
	}
}

func TestPolarDaysNeedNoSpecialCare(t *testing.T) {
	for _, tc := range []struct {
		lat   float64
		j     int
		hours float64
	}{{80, 172, 24}, {80, 355, 0}, {-80, 355, 24}, {0, 80, 12}} {
		d := SunDay{tc.lat, tc.j}
		if got := d.Daylight(); math.Abs(got-tc.hours) > 1e-9 {
			t.Errorf("%v: daylight %v h, expected %v", d, got, tc.hours)
		}
		if ra := d.Extraterrestrial(); ra < 0 || math.IsNaN(ra) {
			t.Errorf("%v: radiation %v", d, ra)
		}
	}
	if et := HargreavesSamani(-30, -25, -35, 10); et != 0 {
		t.Errorf("deep frost evaporates %v mm", et)
	}
}
