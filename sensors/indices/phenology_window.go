package indices

import (
	"math"

	"lathwatch/sensors/garden"
)

// dailyMemory is how much of a day's departure from normal is left the day after: the lag-one correlation of daily mean
// temperature in temperate weather, near 0.7 (common practice, no source).
const dailyMemory = 0.7

// monthShare is the variance of a month's mean as a share of the variance of its days, for days that remember so.
var monthShare = func() float64 {
	const days = 30
	sum := float64(days)
	for lag := 1; lag < days; lag++ {
		sum += 2 * float64(days-lag) * math.Pow(dailyMemory, float64(lag))
	}
	return sum / (days * days)
}()

// ClimateOn is the normal daily mean of a date in °C and the standard deviation of single days about it. Monthly figures stand
// for the middle of their month and are joined by straight lines; the year-to-year spread of a month's mean is widened to that
// of a day.
func ClimateOn(n garden.Normals, d garden.Date) (mean, spread float64) {
	_, month, day := d.Civil()
	at := float64(month-1) + (float64(day)-0.5)/30.44 - 0.5 // months since the middle of January
	low := int(math.Floor(at))
	part := at - float64(low)
	i, j := (low+12)%12, (low+13)%12
	between := func(v [12]float64) float64 { return v[i] + part*(v[j]-v[i]) }
	return between(n.Mean), between(n.Spread) / math.Sqrt(monthShare)
}

// A BreakQuestion asks when a plant will have the forcing it needs. Forcing is degree-days above Base of its pot, counted so far
// as an interval whose width is what gaps leave open.
type BreakQuestion struct {
	Today   garden.Date // the first day that is not yet in SoFar
	SoFar   [2]float64
	Need    ForcingNeed
	Base    float64 // °C
	Climate garden.Normals
	Offset  float64 // what the pots are warmer than the climate's air, °C
	Swing   float64 // half of an ordinary day's range, °C: warm hours of a day whose mean is below the base count
	Early   float64 // percentiles as shares; both 0 means the 20th and the 80th
	Late    float64
}

const windowHorizon = 400 // days; beyond a year the season is another one

// Window gives the first days by which the plant will have broken with the chances Early and Late. It is false when the climate
// never brings the forcing within a year.
//
// The forcing ahead is taken as normal: each day adds the mean of a normal temperature's excess over the base, and a variance
// that remembers the days before. The chance of having broken by a day is that of the sum so far being over the need.
func Window(q BreakQuestion) (early, late garden.Date, ok bool) {
	if q.Early == 0 && q.Late == 0 {
		q.Early, q.Late = 0.2, 0.8
	}
	unsure := q.Need.Spread()
	gap := (q.SoFar[1] - q.SoFar[0]) / math.Sqrt(12)
	fixed := unsure*unsure + gap*gap
	sum := (q.SoFar[0] + q.SoFar[1]) / 2
	var variance, memory float64
	found := false
	for i := range garden.Date(windowHorizon) {
		day := q.forcingOn(q.Today + i)
		sum += day.mean
		variance += day.variance + 2*day.slope*dailyMemory*memory
		memory = dailyMemory*memory + day.slope
		chance := normalBelow((sum - q.Need.Mean) / math.Sqrt(max(fixed+variance, 1e-12)))
		if !found && chance >= q.Early {
			early, found = q.Today+i, true
		}
		if chance >= q.Late {
			return early, q.Today + i, true
		}
	}
	return 0, 0, false
}

// dayForcing is what one day ahead adds: its mean, its own variance, and how much of a degree's departure it passes on.
type dayForcing struct{ mean, variance, slope float64 }

func (q BreakQuestion) forcingOn(d garden.Date) dayForcing {
	m, s := ClimateOn(q.Climate, d)
	m += q.Offset - q.Base
	// The wave within a day spreads its hours like a further normal error; only departures of whole days reach the variance.
	all := math.Sqrt(s*s + q.Swing*q.Swing/2)
	if all <= 0 {
		return dayForcing{mean: max(m, 0)}
	}
	z := m / all
	above, density := normalBelow(z), math.Exp(-z*z/2)/math.Sqrt(2*math.Pi)
	mean := m*above + all*density
	square := (m*m+all*all)*above + m*all*density
	share := s * s / (all * all)
	return dayForcing{mean: mean, variance: max(square-mean*mean, 0) * share, slope: s * above}
}

// normalBelow is the share of the standard normal distribution below z.
func normalBelow(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
