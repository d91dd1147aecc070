package alerts

import (
	"math"
	"time"

	"lathwatch/sensors/indices"
)

const (
	eveningWindow = 35 * time.Minute // a reading this late still stands for its hour
	nightHole     = 2 * time.Hour    // a night with a longer hole teaches nothing
	forecastFresh = 12 * time.Hour
	roughFrom     = 45 * time.Minute // after 18:00 with no 18:00 reading the newest one must do
)

// nightFold is what a place's evening says of its night, noon to noon.
type nightFold struct {
	fit     indices.FrostFit
	falls   [3]falls
	evening [3]indices.FrostEvening
	sky     indices.FrostSky
	est     indices.FrostEstimate
	estHow  string // "": nothing to speak on yet
	early   string // how the newest estimate is known, also one too early to speak on
	min     int64
	from    time.Time // first and newest air reading of the night
	last    time.Time
	holed   bool
	v       int64 // newest air, and since when it has not moved at all
	still   time.Time
	doubted bool // the newest reading is not believed
}

// falls are how far the air fell from one of the evening's hours to the minimum: what is gone by until there are nights enough, and
// evenings different enough, for a line.
type falls struct{ n, sum, sq int64 }

func (f *falls) add(d int64) { f.n, f.sum, f.sq = f.n+1, f.sum+d, f.sq+d*d }

const (
	fallsLeast = 5   // nights
	fallsErr   = 2.0 // °C, at least
)

// likely is a fall in °C that most nights stay within: the mean and one standard deviation. The error to be expected is guessed.
func (f *falls) likely() (fall, err float64, ok bool) {
	if f.n < fallsLeast {
		return 0, 0, false
	}
	mean := float64(f.sum) / float64(f.n)
	sd := math.Sqrt(max(float64(f.sq)/float64(f.n)-mean*mean, 0))
	return (mean + sd) / 1000, max(sd/1000, fallsErr), true
}

// mostFall is the farthest the air is believed to fall from each of the three hours, °C: a line run beyond the evenings it was
// learned from must not say what no night does (guesses).
var mostFall = [3]float64{18, 13, 10}

// whole says that the night was watched from the evening to the morning without a long hole.
func (n *nightFold) whole(c *nightClock) bool {
	return !n.from.IsZero() && !n.holed && !n.from.After(c.hours[1]) && !n.last.Before(c.lows)
}

// night takes an air reading of a place into its night and, at the three hours, into tonight's estimate.
func (f *Fold) night(at time.Time, pi int, v int64) {
	n, c := &f.places[pi].night, &f.clk
	if n.from.IsZero() {
		n.from, n.min = at, v
	} else if at.Sub(n.last) > nightHole {
		n.holed = true
	}
	if v != n.v || n.still.IsZero() {
		n.v, n.still = v, at
	}
	n.last, n.min = at, min(n.min, v)
	if n.doubted = f.unbelievable(at, pi, v); n.doubted {
		return
	}
	for h := range n.evening {
		if t := c.hours[h]; !n.evening[h].OK && !t.IsZero() && !at.Before(t) && at.Sub(t) < eveningWindow {
			n.evening[h] = f.eveningOf(at, pi, v)
			f.estimate(at, pi, indices.FrostHour(h))
		}
	}
	late := c.hours[indices.FrostAt18].Add(roughFrom)
	if n.estHow == "" && at.After(late) && at.Sub(late) < 5*time.Hour {
		f.rough(at, pi, v)
	}
}

// A dead thermometer must not make a frost: one that has not moved at all for hours, or that stands far below every other place's.
const (
	airStill = 3 * time.Hour
	airBelow = 6000 // m°C: more than the sky and a roof can make (a guess)
)

func (f *Fold) unbelievable(at time.Time, pi int, v int64) bool {
	if n := &f.places[pi].night; at.Sub(n.still) >= airStill {
		return true
	}
	others := 0
	for i := range f.st.Places {
		p := &f.st.Places[i]
		if i == pi || p.AirAt.IsZero() || at.Sub(p.AirAt) > eveningWindow {
			continue
		}
		if int64(p.Air)-v <= airBelow {
			return false
		}
		others++
	}
	return others > 0
}

// eveningOf is the evening's reading with the dew point where the air's dryness is known at this place or at another one: the
// dew point hardly differs within a garden.
func (f *Fold) eveningOf(at time.Time, pi int, v int64) indices.FrostEvening {
	e := indices.FrostEvening{T: float64(v) / 1000, OK: true}
	if e.Dew, e.DewOK = f.dewAt(at, pi); e.DewOK {
		return e
	}
	for i := range f.st.Places {
		if e.Dew, e.DewOK = f.dewAt(at, i); e.DewOK {
			return e
		}
	}
	return e
}

func (f *Fold) dewAt(at time.Time, pi int) (float64, bool) {
	p := &f.st.Places[pi]
	if p.HumidityAt.IsZero() || p.AirAt.IsZero() || at.Sub(p.HumidityAt) > eveningWindow || at.Sub(p.AirAt) > eveningWindow {
		return 0, false
	}
	return indices.DewPoint(p.Air.Celsius(), float64(p.Humidity)/10)
}

func (f *Fold) estimate(at time.Time, pi int, h indices.FrostHour) {
	n := &f.places[pi].night
	if f.wind.known(at) {
		n.sky.Wind, n.sky.WindOK = float64(f.wind.v)/1000, true
	}
	est, how, ok := f.tell(pi, h, n.evening[h])
	if !ok || est.Guess && n.estHow == HowOwn {
		return
	}
	n.est, n.estHow, n.early = est, how, how
	if h == indices.FrostAt15 {
		n.estHow = "" // too early to speak on; kept as what to expect
	}
	f.expect(at, pi)
}

// tell asks the place's own nights; while they are few or all alike, how far they usually fall; and in a first season the guess.
func (f *Fold) tell(pi int, h indices.FrostHour, e indices.FrostEvening) (est indices.FrostEstimate, how string, ok bool) {
	n := &f.places[pi].night
	est, ok = n.fit.Estimate(h, e, n.sky, f.midwinter())
	how = HowOwn
	if ok && est.Guess {
		how = HowFirst
		if fall, err, few := n.falls[h].likely(); few {
			est.Low, est.Err, how = e.T-fall, err, HowFewNights
		}
	}
	est.Low = max(est.Low, e.T-mostFall[h])
	return est, how, ok
}

// rough makes the newest reading stand for the evening's when those fell into a gap.
func (f *Fold) rough(at time.Time, pi int, v int64) {
	n, h := &f.places[pi].night, indices.FrostAt18
	if !f.clk.sunset.IsZero() && at.After(f.clk.sunset.Add(time.Hour)) {
		h = indices.FrostAtDusk
	}
	if est, _, ok := f.tell(pi, h, f.eveningOf(at, pi, v)); ok {
		n.est, n.estHow = est, HowRough
		f.expect(at, pi)
	}
}

func (f *Fold) midwinter() bool {
	_, m, _ := f.st.Cal.Northern(f.st.Day).Civil()
	return m == time.December || m == time.January || m == time.February
}

// A newest reading of the whole garden, for what differs little within it.
type newest struct {
	at time.Time
	v  int64
}

func (n newest) known(now time.Time) bool { return !n.at.IsZero() && now.Sub(n.at) < time.Hour }
