package indices

import (
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"

	"lathwatch/sensors/checks"
)

// maxMin are days as American tables print them: highest, then lowest.
func maxMin(days [][2]float64) []DayRange {
	out := make([]DayRange, len(days))
	for i, d := range days {
		out[i] = DayRange{Min: d[1], Max: d[0]}
	}
	return out
}

func minMax(days [][2]float64) []DayRange {
	out := make([]DayRange, len(days))
	for i, d := range days {
		out[i] = DayRange{Min: d[0], Max: d[1]}
	}
	return out
}

func (d DegreeDays) days(rs []DayRange) []float64 {
	out := make([]float64, len(rs))
	for i, r := range rs {
		out[i] = d.Day(r)
	}
	return out
}

func TestPublishedDegreeDayExamples(t *testing.T) {
	var msu struct {
		Base float64 `json:"base_F"`
		Days [][2]float64
	}
	checks.Input(t, "dd-msu-avg", &msu)
	checks.Is(t, "dd-msu-avg", DegreeDays{Method: Average, Base: msu.Base}.days(maxMin(msu.Days)))
	checks.Is(t, "dd-msu-be", DegreeDays{Method: Sine, Base: msu.Base}.days(maxMin(msu.Days)))

	var corn struct {
		Days   [][2]float64
		Lo, Hi float64
	}
	checks.Input(t, "dd-corn-3day", &corn)
	maize := DegreeDays{Method: AverageClipped, Base: corn.Lo, Cutoff: Horizontal, Upper: corn.Hi}
	checks.Is(t, "dd-corn-3day", map[string]any{"daily": maize.days(maxMin(corn.Days)), "total": maize.Sum(maxMin(corn.Days))})

	var one struct {
		Day          [2]float64
		Lo, Hi, Base float64
	}
	checks.Input(t, "dd-mrcc", &one)
	got := DegreeDays{Method: AverageClipped, Base: one.Lo, Cutoff: Horizontal, Upper: one.Hi}.Day(DayRange{Min: one.Day[1], Max: one.Day[0]})
	checks.Is(t, "dd-mrcc", map[string]float64{"mean_used": got + one.Lo, "gdd": got})
	checks.Input(t, "dd-isu", &one)
	checks.Is(t, "dd-isu", DegreeDays{Method: Average, Base: one.Base}.Day(DayRange{Min: one.Day[1], Max: one.Day[0]}))

	var mean struct {
		Mean float64 `json:"mean_F"`
		Base float64 `json:"base_F"`
	}
	checks.Input(t, "dd-ucipm-64", &mean)
	checks.Is(t, "dd-ucipm-64", DegreeDays{Method: Sine, Base: mean.Base}.Day(DayRange{Min: mean.Mean, Max: mean.Mean}))

	var wheat struct {
		Days [][2]float64 `json:"days_C"`
		Base float64
	}
	checks.Input(t, "dd-mcmaster", &wheat)
	checks.Is(t, "dd-mcmaster", map[string]any{
		"method1": DegreeDays{Method: Average, Base: wheat.Base}.days(maxMin(wheat.Days)),
		"method2": DegreeDays{Method: AverageClipped, Base: wheat.Base}.days(maxMin(wheat.Days))})
}

func TestTheSixPositionsOfADayAgainstTwoThresholds(t *testing.T) {
	var in struct {
		MinMax [][2]float64 `json:"min_max"`
		Lo, Hi float64
	}
	checks.Input(t, "dd-six-sine-horizontal", &in)
	days := minMax(in.MinMax)
	of := func(m Method, c Cutoff) []float64 { return DegreeDays{m, in.Lo, c, in.Hi}.days(days) }
	checks.Is(t, "dd-six-sine-horizontal", of(Sine, Horizontal))
	checks.Is(t, "dd-six-sine-intermediate", of(Sine, Intermediate))
	checks.Is(t, "dd-six-sine-vertical", of(Sine, Vertical))
	checks.Is(t, "dd-six-tri-horizontal", of(Triangle, Horizontal))
	checks.Is(t, "dd-six-tri-intermediate", of(Triangle, Intermediate))
	checks.Is(t, "dd-six-tri-vertical", of(Triangle, Vertical))
}

func TestDoubleMethodsFallToTomorrowsMinimum(t *testing.T) {
	var in struct {
		Min, Max, Base float64
		NextMin        float64 `json:"next_min"`
	}
	checks.Input(t, "dd-double", &in)
	r := DayRange{Min: in.Min, Max: in.Max, NextMin: in.NextMin}
	checks.Is(t, "dd-double", map[string]float64{
		"double_sine": DegreeDays{Method: DoubleSine, Base: in.Base}.Day(r), "double_tri": DegreeDays{Method: DoubleTriangle, Base: in.Base}.Day(r)})
}

func TestFourCaseRule(t *testing.T) {
	var in struct {
		MinMax [][2]float64 `json:"min_max"`
		Base   float64
	}
	checks.Input(t, "dd-metoffice", &in)
	checks.Is(t, "dd-metoffice", DegreeDays{Method: FourCase, Base: in.Base}.days(minMax(in.MinMax)))
}

func yearOf(t *testing.T, place, year string) []DayRange {
	t.Helper()
	rows, err := csv.NewReader(checks.Data(t, "newyork_seattle_daily_2012_2015.csv")).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []DayRange
	for _, r := range rows {
		if r[0] != place || !strings.HasPrefix(r[1], year) {
			continue
		}
		high, err1 := strconv.ParseFloat(r[3], 64)
		low, err2 := strconv.ParseFloat(r[4], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		out = append(out, DayRange{Min: low, Max: high})
	}
	for i := range out[:len(out)-1] {
		out[i].NextMin = out[i+1].Min
	}
	out[len(out)-1].NextMin = out[len(out)-1].Min
	return out
}

func sevenMethods(days []DayRange) map[string]float64 {
	sum := func(m Method, c Cutoff) float64 { return DegreeDays{m, 10, c, 30}.Sum(days) }
	return map[string]float64{"avg1": sum(Average, NoCutoff), "avg2": sum(AverageClipped, NoCutoff), "tri": sum(Triangle, NoCutoff),
		"sine": sum(Sine, NoCutoff), "sine_h30": sum(Sine, Horizontal), "sine_i30": sum(Sine, Intermediate), "sine_v30": sum(Sine, Vertical)}
}

func TestTwoCitiesForAYear(t *testing.T) {
	checks.Is(t, "dd-year-seattle-2012", sevenMethods(yearOf(t, "Seattle", "2012")))
	checks.Is(t, "dd-year-newyork-2013", sevenMethods(yearOf(t, "New York", "2013")))
}

func TestAFigureNamesItsMethod(t *testing.T) {
	for _, tc := range []struct {
		d    DegreeDays
		want string
	}{
		{DegreeDays{}, "integral of the readings, base 0"},
		{DegreeDays{Method: Sine, Base: 5}, "single sine, base 5"},
		{DegreeDays{Method: DoubleTriangle, Base: 10, Cutoff: Vertical, Upper: 30}, "double triangle, base 10, vertical cut-off at 30"},
	} {
		if got := tc.d.String(); got != tc.want {
			t.Errorf("got %q, expected %q", got, tc.want)
		}
	}
}

func TestImpossibleWaysOfCountingAreRefused(t *testing.T) {
	for _, d := range []DegreeDays{
		{Method: Measured, Base: 5},
		{Method: Method(99), Base: 5},
		{Method: Sine, Base: 10, Cutoff: Horizontal, Upper: 10},
		{Method: Average, Base: 10, Cutoff: Vertical, Upper: 30},
		{Method: AverageClipped, Base: 10, Cutoff: Intermediate, Upper: 30},
		{Method: FourCase, Base: 10, Cutoff: Horizontal, Upper: 30},
	} {
		if err := d.Check(); err == nil {
			t.Errorf("%v: accepted", d)
		}
		if got := d.Day(DayRange{Min: 0, Max: 20}); !math.IsNaN(got) {
			t.Errorf("%v: got %v", d, got)
		}
	}
	if got := (DegreeDays{Method: Sine, Base: 5}).Day(DayRange{Min: 8, Max: 7}); !math.IsNaN(got) {
		t.Errorf("a maximum below the minimum: got %v", got)
	}
}
