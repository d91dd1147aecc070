package indices

import (
	"math"
	"time"
)

// Defaults of the granule clock. The rated life is stated at 21 °C (some labels say 25: a setting); the trade halves the rate
// for every 9 °C less, which is a Q10 of 2.16; trials of coats give 1.5 to 2.
const (
	GranuleRefC  = 21.0
	GranuleQ10   = 2.16
	GranuleLife  = 182.4 // days: the six-month type
	feedShortest = time.Second
)

// ReleaseRate is the share of its rated speed a coated granule releases at t °C: Q10^((t-ref)/10), nothing below 0 °C.
func ReleaseRate(t, ref, q10 float64) float64 {
	if t < 0 {
		return 0
	}
	return math.Pow(q10, (t-ref)/10)
}

// Granules counts what coated granules have released by the pot's own temperature. The zero value takes the defaults.
type Granules struct {
	LifeDays, RefC, Q10 float64

	last     time.Time
	lastTemp Milli
	have     bool
	micro    int64 // effective seconds, in millionths
	missed   time.Duration
	rateAt   Milli
	rate     int64
	rateOK   bool
}

// Take feeds the pot's temperature in m°C. active is false while the pot is frozen or dry: release then waits. Stretches over
// 3 h are not bridged but counted as missed.
func (g *Granules) Take(now time.Time, pot Milli, active bool) {
	if g.have {
		switch dt := now.Sub(g.last); {
		case dt > gateLost:
			g.missed += dt
		case dt >= feedShortest && active:
			g.micro += int64(dt/time.Second) * g.speed((pot+g.lastTemp)/2)
		}
	}
	g.last, g.lastTemp, g.have = now, pot, true
}

// speed is the rate in millionths, by steps of 0.1 °C so that most rounds find it ready.
func (g *Granules) speed(t Milli) int64 {
	t = t / 100 * 100
	if !g.rateOK || t != g.rateAt {
		ref, q := g.RefC, g.Q10
		if ref == 0 {
			ref = GranuleRefC
		}
		if q == 0 {
			q = GranuleQ10
		}
		g.rateAt, g.rate, g.rateOK = t, int64(math.Round(1e6*ReleaseRate(float64(t)/1000, ref, q))), true
	}
	return g.rate
}

// Released gives the share of the rated life used up, 0 to 1, in a straight line; high also counts missed time at full rated
// speed, so the truth lies between.
func (g *Granules) Released() (low, high float64) {
	life := g.LifeDays
	if life == 0 {
		life = GranuleLife
	}
	days := float64(g.micro) / 1e6 / 86400
	return min(1, days/life), min(1, (days+g.missed.Hours()/24)/life)
}

// FrontLoaded turns a share of the rated life into the share of nutrient gone when release is exponential and 90 % is out at the rated
// life; leaching trials lie nearer to this than to the straight line (Merhaut et al. 2006).
func FrontLoaded(life float64) float64 { return 1 - math.Exp(-math.Ln10*life) }

// GranuleN gives the nitrogen released so far in mg per litre of pot, from the dose in g per litre and its per cent of nitrogen.
func GranuleN(gPerL, pctN, released float64) float64 { return NOf(gPerL, pctN) * released }

// NOf is the nitrogen in mg/L of a solution or a dose of g/L with so much per cent of nitrogen.
func NOf(gPerL, pctN float64) float64 { return gPerL * pctN * 10 }

// SoakN gives the nitrogen in mg per litre of pot that one soak leaves: mL of solution per litre of pot at so many mg/L.
func SoakN(mLPerL, mgPerL float64) float64 { return mLPerL * mgPerL / 1000 }

// EC25 refers a conductivity at t °C to 25 °C at 2 % per °C; the unit stays (1 dS/m = 1 mS/cm = 1000 µS/cm).
func EC25(ec, t float64) float64 { return ec / (1 + 0.02*(t-25)) }

// Granule doses in g per litre of mix: label classes of 8 to 9 month types (from memory; the label rules), and what growers of these
// plants use, a third to half of the nursery standard of 5 g/L of a 15 % type.
var (
	DoseLow    = Band{1, 2}
	DoseMedium = Band{2.5, 4}
	DoseHigh   = Band{4, 6}
	DoseOrchid = Band{1.5, 2.5}
)

// FeedBook sums the nitrogen a pot was given since it was last started, in mg per litre of pot. The zero value is ready.
type FeedBook struct{ milli int64 }

// Soaked adds a liquid feed: mL over a pot of so many litres at mg/L of nitrogen.
func (b *FeedBook) Soaked(mL, litres, mgPerL float64) {
	if litres > 0 {
		b.milli += int64(math.Round(1000 * SoakN(mL/litres, mgPerL)))
	}
}

// Liquid gives the sum in mg of nitrogen per litre of pot.
func (b *FeedBook) Liquid() float64 { return float64(b.milli) / 1000 }

// Restart begins a new season's sum.
func (b *FeedBook) Restart() { b.milli = 0 }
