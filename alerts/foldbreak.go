package alerts

import (
	"math"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// How a break window is known.
const (
	HowYears = "own years"
	HowClass = "class guess"
)

// classes are the first guesses for the warmth to the first nose, °C·d base 5 °C at the pot after enough cold: 40 to 90 for early
// kinds, 120 to 230 for middle ones, 280 to 450 for late ones, taken as the middle four fifths of plants. Nobody has published
// one: guesses, uncertain by half. An unknown class is taken as middle, and wider.
var classes = [...]indices.ForcingClass{
	garden.UnknownEarliness: {Mean: 175, Between: 65, Within: 20},
	garden.Early:            {Mean: 65, Between: 20, Within: 10},
	garden.Middle:           {Mean: 175, Between: 43, Within: 20},
	garden.LateRiser:        {Mean: 365, Between: 66, Within: 35},
}

// Normal quantiles of the 20th and the 90th percentile.
const (
	at20 = -0.8416
	at90 = 1.2816
)

func needOf(p *PotStanding) indices.ForcingNeed {
	class := garden.UnknownEarliness
	if p.Plant != nil {
		class = p.Plant.Earliness
	}
	return indices.Shrink(p.Own, classes[class])
}

// breaks works out, once a day, when the pot's nose is to be expected and how near its early edge is.
func (f *Fold) breaks(i int, today garden.Date) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if ps.Break != [2]garden.Date{} {
		ps.Foretold = ps.Break
	}
	ps.Break, ps.BreakHow, ps.EdgeDays = [2]garden.Date{}, "", Interval{}
	closed := ps.Stage == Closed || ps.Stage == LeafDown
	if !closed || ps.Cold != Enough && ps.Cold != Plenty || !ps.Forcing.OK {
		ps.Overdue = ps.Overdue && closed
		return
	}
	need := needOf(ps)
	ps.BreakHow = HowClass
	if len(ps.Own) > 0 {
		ps.BreakHow = HowYears
	}
	sum := ps.Forcing.Mid()
	ps.Overdue = ps.Forcing.Low >= (need.Mean+at90*need.Spread())*overdueMargin
	edge := need.Mean + at20*need.Spread() - sum
	if n := f.st.Climate; n != nil {
		asked := f.st.Cal.Northern(today)
		q := indices.BreakQuestion{Today: asked, SoFar: [2]float64{ps.Forcing.Low, ps.Forcing.High}, Need: need, Base: 5, Climate: *n, Swing: potSwing}
		if early, late, ok := indices.Window(q); ok {
			ps.Break = [2]garden.Date{early + today - asked, late + today - asked}
			ps.EdgeDays = Interval{float64(early - asked), float64(early - asked), true}
			return
		}
	}
	rate := min(max(pf.warmth.mean(), rateLeast), rateMost)
	days := math.Max(edge/rate, 0)
	ps.EdgeDays = Interval{days, days, true}
}

// northern lays a southern garden's monthly figures on the northern calendar, so that its year is reckoned like any other.
func northern(n *garden.Normals, south bool) *garden.Normals {
	if n == nil || !south {
		return n
	}
	moved := &garden.Normals{}
	for i := range n.Mean {
		moved.Mean[(i+6)%12], moved.Spread[(i+6)%12] = n.Mean[i], n.Spread[i]
	}
	return moved
}

// overdueMargin widens a class guess's 90th percentile: the class itself is uncertain by half.
const overdueMargin = 1.5

// potSwing is half of an ordinary day's range at a pot's core, °C: the core lags and damps the air (a guess).
const potSwing = 2.5

// Without climate figures the warmth of the last fortnight is taken to go on, between these, °C·d a day (guesses).
const (
	rateLeast = 1.0
	rateMost  = 8.0
)

// warmth is the last fortnight's daily forcing.
type warmth struct {
	day [14]int64 // m°C·s
	n   int
}

func (w *warmth) take(above int64) {
	w.day[w.n%len(w.day)] = above
	w.n++
}

func (w *warmth) mean() float64 {
	k := min(w.n, len(w.day))
	if k == 0 {
		return 0
	}
	sum := int64(0)
	for _, v := range w.day[:k] {
		sum += v
	}
	return float64(sum) / float64(k) / 86_400_000
}
