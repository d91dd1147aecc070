package indices

import (
	"encoding/csv"
	"math"
	"strconv"
	"testing"
	"time"

	"lathwatch/sensors/checks"
	"lathwatch/sensors/units"

	"pgregory.net/rapid"
)

func milli(c float64) units.MilliCelsius { return units.MilliCelsius(math.Round(1000 * c)) }

func TestUtahWeightsAreThePrintedOnes(t *testing.T) {
	var in temperatures
	checks.Input(t, "ch-utah-table", &in)
	checks.Is(t, "ch-utah-table", each(in.T, func(c float64) float64 { return float64(UtahHalves(milli(c))) / 2 }))
}

func TestChillingHoursStateTheirEdges(t *testing.T) {
	var in temperatures
	checks.Input(t, "ch-hours-edges", &in)
	count := func(counts func(units.MilliCelsius) bool) []float64 {
		return each(in.T, func(c float64) float64 {
			if counts(milli(c)) {
				return 1
			}
			return 0
		})
	}
	checks.Is(t, "ch-hours-edges", map[string]any{"closed_0_7.2": count(ChillingHour), "open_at_0": count(ChillingHourAboveZero)})
}

func TestFrozenHoursAreRest(t *testing.T) {
	for _, tc := range []struct {
		at   units.MilliCelsius
		want bool
	}{{-12000, true}, {0, true}, {5000, true}, {5001, false}} {
		if got := ColdHour(tc.at); got != tc.want {
			t.Errorf("%v: got %v", tc.at, got)
		}
	}
}

// hoursToPortion solves the model for the time a store at a steady temperature takes from empty to full; false when it never is.
func hoursToPortion(c float64) (float64, bool) {
	s := dynStepAt(c + dynKelvinZero)
	if s.level <= 1 {
		return 0, false
	}
	return math.Log(1-1/s.level) / math.Log(s.keep), true
}

func TestTheFirstPortionTakesAbout28HoursAtSixDegrees(t *testing.T) {
	var in struct {
		T float64 `json:"T_C"`
	}
	checks.Input(t, "ch-dyn-28h", &in)
	h, _ := hoursToPortion(in.T)
	checks.Is(t, "ch-dyn-28h", h)
	var m DynamicModel
	hours := 0
	for ; m.Portions() == 0; hours++ {
		m.Hour(in.T)
	}
	if hours != 29 {
		t.Errorf("stepping by whole hours credits the first portion after %d hours, expected 29", hours)
	}

	var steady temperatures
	checks.Input(t, "ch-dyn-h1", &steady)
	var got []any
	for _, c := range steady.T {
		if h, ok := hoursToPortion(c); ok {
			got = append(got, h)
		} else {
			got = append(got, nil)
		}
	}
	checks.Is(t, "ch-dyn-h1", got)
}

func TestPortionsOfASteadyWinter(t *testing.T) {
	var in temperatures
	checks.Input(t, "ch-dyn-2400h", &in)
	checks.Is(t, "ch-dyn-2400h", each(in.T, func(c float64) float64 {
		var m DynamicModel
		for range 2400 {
			m.Hour(c)
		}
		return m.Portions()
	}))
	physical := DynamicModel{KelvinZero: 273.15}
	for range 2400 {
		physical.Hour(0)
	}
	if got := physical.Portions(); math.Abs(got-15.1516) > 0.001 {
		t.Errorf("with 273.15 the figure at 0 °C is 15.1516 (own reference): got %v", got)
	}
}

func TestMildAfternoonsEnhanceAndWarmOnesCancel(t *testing.T) {
	var in temperatures
	checks.Input(t, "ch-dyn-cycle", &in)
	checks.Is(t, "ch-dyn-cycle", each(in.T, func(c float64) float64 {
		var m DynamicModel
		for range 100 {
			for range 16 {
				m.Hour(6)
			}
			for range 8 {
				m.Hour(c)
			}
		}
		return m.Portions()
	}))
}

func TestTheTabulatedModelIsTheExponentialOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var exact, table DynamicModel
		for _, n := range rapid.SliceOfN(rapid.IntRange(-20*16, 30*16), 1, 3000).Draw(t, "hours") {
			exact.Hour(float64(n) / 16)
			table.HourSixteenths(n)
		}
		if d := math.Abs(exact.Portions() - table.Portions()); d > 1e-9 || math.Abs(exact.Store()-table.Store()) > 1e-9 {
			t.Errorf("%v portions against %v", table.Portions(), exact.Portions())
		}
	})
	var far DynamicModel
	far.HourSixteenths(-100000)
	far.HourSixteenths(100000)
}

func TestPortionsAreNeverLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var m DynamicModel
		last := 0.0
		for _, c := range rapid.SliceOfN(rapid.Float64Range(-25, 40), 1, 500).Draw(t, "hours") {
			m.Hour(c)
			if m.Portions() < last || m.Store() < 0 {
				t.Fatalf("%v portions after %v, store %v", m.Portions(), last, m.Store())
			}
			last = m.Portions()
		}
	})
}

func TestGrowingDegreeHours(t *testing.T) {
	var in temperatures
	checks.Input(t, "ch-gdh-asymcur", &in)
	checks.Is(t, "ch-gdh-asymcur", each(in.T, GDH))
	in = temperatures{}
	checks.Input(t, "ch-gdh-linear", &in)
	checks.Is(t, "ch-gdh-linear", each(in.T, GDHLinear))
	if GDHLinear(-5) != 0 {
		t.Error("frost takes growth away")
	}
}

// hourly is a winter of hourly temperatures, gaps filled linearly in time, rounded to 0.01 °C before that.
func hourlyEWR(t *testing.T, from, to time.Time) []units.MilliCelsius {
	t.Helper()
	rows, err := csv.NewReader(checks.Data(t, "ewr_hourly_2013.csv")).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []float64
	var last time.Time
	for _, r := range rows[1:] {
		at, err := time.Parse("2006-01-02T15:04Z", r[0])
		if err != nil {
			t.Fatal(err)
		}
		f, err := strconv.ParseFloat(r[1], 64)
		if err != nil || at.Before(from) || at.After(to) {
			continue
		}
		c := math.Round((f-32)/1.8*100) / 100
		if n := int(at.Sub(last) / time.Hour); len(out) > 0 && n > 1 {
			start := out[len(out)-1]
			for i := 1; i < n; i++ {
				out = append(out, start+(c-start)*float64(i)/float64(n))
			}
		}
		out, last = append(out, c), at
	}
	whole := make([]units.MilliCelsius, len(out))
	for i, c := range out {
		whole[i] = milli(c)
	}
	return whole
}

type winter struct {
	Chill
	physical         DynamicModel
	gdh, gdhStraight float64
}

func winterOf(hours []units.MilliCelsius) winter {
	w := winter{physical: DynamicModel{KelvinZero: 273.15}}
	for _, t := range hours {
		w.Hour(t)
		w.physical.Hour(t.Celsius())
		w.gdh += GDH(t.Celsius())
		w.gdhStraight += GDHLinear(t.Celsius())
	}
	return w
}

func TestARealWinterByEveryYardstick(t *testing.T) {
	w := winterOf(hourlyEWR(t, time.Date(2013, 1, 1, 6, 0, 0, 0, time.UTC), time.Date(2013, 4, 1, 3, 0, 0, 0, time.UTC)))
	checks.Is(t, "ch-ewr-janmar", map[string]any{"hours": w.Hours, "CH_closed": w.Chilling, "CH_open0": w.ChillingAbove, "utah": w.Utah(),
		"cp_273": w.Dynamic.Portions(), "cp_27315": w.physical.Portions(), "gdh_asym": w.gdh, "gdh_lin": w.gdhStraight})
	t.Logf("hours at or below 5 °C: %d of %d", w.Cold, w.Hours)
}

func TestTheNormalWinterOfACity(t *testing.T) {
	rows, err := csv.NewReader(checks.Data(t, "seattle_hourly_normals_1981_2010.csv")).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var hours []units.MilliCelsius
	for _, r := range rows[1:] {
		if m := r[0][5:7]; m > "03" {
			continue
		}
		c, err := strconv.ParseFloat(r[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		hours = append(hours, milli(c))
	}
	w := winterOf(hours)
	checks.Is(t, "ch-seattle-normals", map[string]any{"hours": w.Hours, "CH_closed": w.Chilling, "utah": w.Utah(),
		"cp_273": w.Dynamic.Portions(), "gdh_asym": w.gdh})
}
