package indices

import (
	"encoding/csv"
	"math"
	"slices"
	"strconv"
	"testing"

	"lathwatch/sensors/checks"
)

// The formulae of this file are peers: written here only to hold the shipped ones against. T in K, results in Pa unless said.

// iapwsWater is the auxiliary saturation equation of IAPWS SR1-86 (Wagner & Pruss 1993).
func iapwsWater(k float64) float64 {
	const tc, pc = 647.096, 22.064e6
	th := 1 - k/tc
	sum := -7.85951783*th + 1.84408259*math.Pow(th, 1.5) - 11.7866497*th*th*th + 22.6807411*math.Pow(th, 3.5) -
		15.9618719*math.Pow(th, 4) + 1.80122502*math.Pow(th, 7.5)
	return pc * math.Exp(tc/k*sum)
}

// iapwsIce is the sublimation equation of IAPWS R14-08(2011).
func iapwsIce(k float64) float64 {
	th := k / 273.16
	sum := -0.212144006e2*math.Pow(th, 0.333333333e-2) + 0.273203819e2*math.Pow(th, 0.120666667e1) - 0.610598130e1*math.Pow(th, 0.170333333e1)
	return 611.657 * math.Exp(sum/th)
}

// if97 is the saturation pressure of IAPWS R7-97 region 4.
func if97(k float64) float64 {
	n := [...]float64{0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
		0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3}
	th := k + n[8]/(k-n[9])
	a, b, c := th*th+n[0]*th+n[1], n[2]*th*th+n[3]*th+n[4], n[5]*th*th+n[6]*th+n[7]
	return 1e6 * math.Pow(2*c/(-b+math.Sqrt(b*b-4*a*c)), 4)
}

func sonntagWater(k float64) float64 {
	return 100 * math.Exp(-6096.9385/k+16.635794-2.711193e-2*k+1.673952e-5*k*k+2.433502*math.Log(k))
}

func sonntagIce(k float64) float64 {
	return 100 * math.Exp(-6024.5282/k+24.7219+1.0613868e-2*k-1.3198825e-5*k*k-0.49382577*math.Log(k))
}

func buckWater(t float64) float64 { return 6.1121 * math.Exp(17.502*t/(240.97+t)) }
func buckIce(t float64) float64   { return 6.1115 * math.Exp(22.452*t/(272.55+t)) }

func hPa(f func(k float64) float64) func(t float64) float64 {
	return func(t float64) float64 { return f(t+273.15) / 100 }
}

func TestThePeersAreRight(t *testing.T) {
	var at struct {
		K float64 `json:"T_K"`
	}
	checks.Input(t, "psy-iapws-ice230", &at)
	checks.Is(t, "psy-iapws-ice230", map[string]float64{"p_Pa": iapwsIce(at.K)})
	checks.Input(t, "psy-if97-300K", &at)
	checks.Is(t, "psy-if97-300K", map[string]float64{"ps_MPa": if97(at.K) / 1e6})

	var in temperatures
	checks.Input(t, "psy-ref-water", &in)
	checks.Is(t, "psy-ref-water", each(in.T, hPa(iapwsWater)))
	in = temperatures{}
	checks.Input(t, "psy-ref-ice", &in)
	checks.Is(t, "psy-ref-ice", each(in.T, hPa(iapwsIce)))

	frozen := func(v []float64) []float64 {
		return slices.DeleteFunc(slices.Clone(v), func(t float64) bool { return t > 0 })
	}
	in = temperatures{}
	checks.Input(t, "psy-sonntag", &in)
	checks.Is(t, "psy-sonntag", map[string]any{"water": each(in.T, hPa(sonntagWater)), "ice": each(frozen(in.T), hPa(sonntagIce))})
	in = temperatures{}
	checks.Input(t, "psy-buck81", &in)
	checks.Is(t, "psy-buck81", map[string]any{"water": each(in.T, buckWater), "ice": each(frozen(in.T), buckIce)})
}

// The shares allowed are what the comparison of the formulae is known to give: far below a probe's ±2 %RH.
func TestTheShippedFormulaeStayNearThePeers(t *testing.T) {
	worst := func(from, to float64, got, want func(float64) float64) float64 {
		w := 0.0
		for t := from; t <= to; t += 0.25 {
			w = max(w, math.Abs(got(t)/want(t)-1))
		}
		return 100 * w
	}
	kPa := func(t float64) float64 { return 10 * SaturationFAO(t) }
	for _, tc := range []struct {
		name      string
		from, to  float64
		got, want func(float64) float64
		percent   float64
	}{
		{"WMO-No. 8 over water against IAPWS", 0, 40, SaturationWater, hPa(iapwsWater), 0.32},
		{"WMO-No. 8 over ice against IAPWS", -40, 0, SaturationIce, hPa(iapwsIce), 0.1},
		{"FAO-56 against IAPWS", 0, 40, kPa, hPa(iapwsWater), 0.14},
		{"Buck against IAPWS", 0, 40, buckWater, hPa(iapwsWater), 0.1},
		{"Sonntag against IAPWS", 0, 40, hPa(sonntagWater), hPa(iapwsWater), 0.01},
		{"IF97 against IAPWS", 0, 40, hPa(if97), hPa(iapwsWater), 0.01},
		{"WMO-No. 8 over supercooled water against Sonntag", -30, 0, SaturationWater, hPa(sonntagWater), 0.35},
	} {
		w := worst(tc.from, tc.to, tc.got, tc.want)
		t.Logf("%s, %v to %v °C: at most %.3f %%", tc.name, tc.from, tc.to, w)
		if w > tc.percent {
			t.Errorf("%s: %.3f %%, at most %v %% expected", tc.name, w, tc.percent)
		}
	}
	// The textbook figure: at −10 °C air saturated over ice reads about 90.5 % over water.
	if rh := 100 * SaturationIce(-10) / SaturationWater(-10); math.Abs(rh-90.5) > 0.3 {
		t.Errorf("saturation over ice at −10 °C is %.2f %% over water", rh)
	}
}

func TestHumidityFromDewPointAgreesWithAnAirport(t *testing.T) {
	rows, err := csv.NewReader(checks.Data(t, "ewr_hourly_2013.csv")).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var diffs []float64
	for _, r := range rows[1:] {
		tf, err1 := strconv.ParseFloat(r[1], 64)
		df, err2 := strconv.ParseFloat(r[2], 64)
		rh, err3 := strconv.ParseFloat(r[3], 64)
		if err1 == nil && err2 == nil && err3 == nil {
			diffs = append(diffs, math.Abs(HumidityOfDew((tf-32)/1.8, (df-32)/1.8)-rh))
		}
	}
	slices.Sort(diffs)
	within, _ := slices.BinarySearch(diffs, 0.5)
	t.Logf("%d hours", len(diffs))
	checks.Is(t, "psy-data-rh", map[string]float64{
		"median_abs_dRH": diffs[len(diffs)/2], "share_within_0.5": float64(within) / float64(len(diffs))})
}
