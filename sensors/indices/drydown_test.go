package indices

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// potSim is a mass balance of one pot by the hour: millilitres held, lost by evaporation that is not quite first order and
// differs from day to day with the wind, and read by a probe with noise and a temperature wave. It is no copy of the filter's model.
type potSim struct {
	rnd        *rand.Rand
	clay, grow bool
	full, ml   float64
	k          float64 // mL per kPa and hour at drained-full
	temp, dry  float64 // slow weather
	wind       float64
	hour       int
}

func newPotSim(seed uint64, clay, grow bool) *potSim {
	p := &potSim{rnd: rand.New(rand.NewPCG(seed, 99)), clay: clay, grow: grow, full: 1000}
	// Each pot has a rate of its own around the growers' intervals.
	perDay := map[[2]bool]float64{{false, false}: 0.024, {true, false}: 0.087, {false, true}: 0.22, {true, true}: 0.35}[[2]bool{clay, grow}]
	usual := 0.2
	if grow {
		usual = 0.6
	}
	p.k = perDay / 24 / usual * p.full * math.Exp(0.4*p.rnd.NormFloat64())
	p.ml = 0.9 * p.full
	if !grow {
		p.ml = 0.5 * p.full
	}
	return p
}

// step moves an hour on and gives the true share, the probe's reading in ‰ and the air's deficit in Pa.
func (p *potSim) step() (share float64, wet, vpdPa int64) {
	if p.hour%24 == 0 {
		p.temp = 0.8*p.temp + 1.8*p.rnd.NormFloat64()
		p.dry = 0.7*p.dry + 0.25*p.rnd.NormFloat64()
		p.wind = 0.6*p.wind + 0.2*p.rnd.NormFloat64()
	}
	wave := math.Sin(2 * math.Pi * float64(p.hour%24-9) / 24)
	t, rh := 6+p.temp+2.5*wave, 80-8*p.dry*2-6*wave
	if p.grow {
		t, rh = 16+p.temp+5*wave, 70-8*p.dry*2-14*wave
	}
	vpd := 0.6108 * math.Exp(17.27*t/(t+237.3)) * (1 - min(99, max(25, rh))/100)
	share = p.ml / p.full
	loss := p.k * vpd * math.Exp(p.wind-0.06) * (0.12 + 0.88*math.Pow(share, 0.9))
	p.ml = max(5, p.ml-loss)
	p.hour++
	read := 1000*share + 4*p.rnd.NormFloat64() + 3*wave*2.5/2
	return share, int64(math.Round(max(0, read))), int64(vpd * 1000)
}

type dryScore struct {
	rel, told    []float64 // error with the air to come not known, and known
	inside, all  int
	held, any    int // of all forecasts up to three weeks
	short, early int // truth below the interval, above it
}

// scoreDry runs one pot for a span of days, waters it at its limit and scores the forecasts made each noon against what came.
func scoreDry(seed uint64, clay, grow, vpdKnown bool, days, ahead int, sc *dryScore) {
	p := newPotSim(seed, clay, grow)
	d := NewDryDown(PotKind{Clay: clay, Growth: grow})
	limit, refill := 0.20, 0.45
	if grow {
		limit, refill = 0.55, 0.98
	}
	type forecast struct {
		at, mid, lo, hi float64
		d               DryDown
		air             []int64
	}
	var open []forecast
	for h := range days * 24 {
		share, wet, vpd := p.step()
		at := gateStart.Add(time.Duration(h) * time.Hour)
		d.Take(at, wet, true, vpd, vpdKnown)
		for i := range open {
			open[i].air = append(open[i].air, vpd)
		}
		if share <= limit {
			for _, f := range open {
				truth := float64(h)/24 - f.at
				if truth > 0.5 && truth < 21 {
					sc.any++
					if f.lo <= truth && truth <= f.hi {
						sc.held++
					}
				}
				if truth < float64(ahead)-0.75 || truth > float64(ahead)+0.75 {
					continue
				}
				sc.rel = append(sc.rel, math.Abs(f.mid-truth)/truth)
				mid, _ := f.d.ExpectedIn(int64(limit*1000), dailyMeans(f.air))
				sc.told = append(sc.told, math.Abs(mid-truth)/truth)
				sc.all++
				switch {
				case truth < f.lo:
					sc.short++
				case truth > f.hi:
					sc.early++
				default:
					sc.inside++
				}
			}
			open = open[:0]
			p.ml = refill * p.full
			d.Watered()
		}
		step := 24
		if grow {
			step = 8
		}
		if h%step == 12%step && h > 24*20 {
			if lo, hi, ok := d.DaysLeft(int64(limit * 1000)); ok {
				mid, _ := d.Expected(int64(limit * 1000))
				open = append(open, forecast{float64(h) / 24, mid, lo, hi, *d, nil})
			}
		}
	}
}

func dailyMeans(hours []int64) (days []int64) {
	for c := range slices.Chunk(hours, 24) {
		sum := int64(0)
		for _, v := range c {
			sum += v
		}
		days = append(days, sum/int64(len(c)))
	}
	return days
}

func (s dryScore) String() string {
	return fmt.Sprintf("%d forecasts, mean error %.1f %% (%.1f %% when the air to come is known), median %.1f %%, 80 %% interval held %.0f %% (came sooner %.0f %%, later %.0f %%), of all %d forecasts %.0f %%", s.all, 100*dryMean(s.rel), 100*dryMean(s.told), 100*dryMedian(s.rel),
		100*float64(s.inside)/float64(s.all), 100*float64(s.short)/float64(s.all), 100*float64(s.early)/float64(s.all), s.any, 100*float64(s.held)/float64(s.any))
}

func dryMean(v []float64) (m float64) {
	for _, x := range v {
		m += x / float64(len(v))
	}
	return m
}

func dryMedian(v []float64) float64 {
	w := slices.Sorted(slices.Values(v))
	return w[len(w)/2]
}

// The outside here is a mass balance by the hour in weather as changeable as a real winter's (a day's deficit varies by 45 %). Rated
// is the model's own error seven days ahead (two in growth, when no pot lasts seven), with the air to come told: under 20 %. What
// the weather adds when it is not told is printed; the interval must hold four times in five, give or take one in ten.
func TestDaysLeftAgainstAMassBalance(t *testing.T) {
	for _, c := range []struct {
		name            string
		clay, grow, vpd bool
		days, ahead     int
		told, untold    float64
	}{
		{"plastic at rest, air known", false, false, true, 200, 7, 0.20, 0.35},
		{"clay at rest, air known", true, false, true, 200, 7, 0.20, 0.30},
		{"plastic at rest, air not known", false, false, false, 200, 7, 1, 0.40},
		{"clay at rest, air not known", true, false, false, 200, 7, 1, 0.35},
		{"plastic in growth, air known", false, true, true, 120, 2, 0.20, 0.30},
		{"clay in growth, air known", true, true, true, 120, 2, 0.20, 0.30},
	} {
		var sc dryScore
		for seed := range uint64(40) {
			scoreDry(seed, c.clay, c.grow, c.vpd, c.days, c.ahead, &sc)
		}
		t.Logf("%s, %d days ahead: %v", c.name, c.ahead, sc)
		if sc.all < 100 || dryMean(sc.told) > c.told || dryMean(sc.rel) > c.untold {
			t.Errorf("%s: %d forecasts, mean error %.3f told the air, %.3f not told", c.name, sc.all, dryMean(sc.told), dryMean(sc.rel))
		}
		if held := float64(sc.held) / float64(sc.any); held < 0.70 || held > 0.93 {
			t.Errorf("%s: the 80 %% interval held %.2f of all forecasts", c.name, held)
		}
	}
}
