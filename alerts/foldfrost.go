package alerts

import (
	"math"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/units"
)

// How the coming night's minimum is known, from the best to the poorest; PlaceStanding.ExpectedHow is one of them.
const (
	HowForecast   = "forecast"
	HowOwn        = "own nights"
	HowElsewhere  = "forecast for another place"
	HowFewNights  = "few own nights, a guess"
	HowFirst      = "first-season guess"
	HowRough      = "rough, after a gap"
	HowNeighbour  = "as at a place like it, a guess"
	HowLastMinima = "last three minima, a guess"
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

// nightClock holds the instants of the present night that every round is compared with.
type nightClock struct {
	date   garden.Date
	known  bool
	next   time.Time // the noon that ends it
	hours  [3]time.Time
	sunset time.Time
	lows   time.Time // from here on its minimum is likely known
}

// whole says that the night was watched from the evening to the morning without a long hole.
func (n *nightFold) whole(c *nightClock) bool {
	return !n.from.IsZero() && !n.holed && !n.from.After(c.hours[1]) && !n.last.Before(c.lows)
}

// nights turns the night at noon: what it taught is learned, and the next one's hours are laid out.
func (f *Fold) nights(now time.Time) {
	if f.clk.known && now.Before(f.clk.next) {
		return
	}
	n := f.st.Cal.Night(now)
	if f.clk.known && n != f.clk.date {
		f.closeNight()
	}
	f.layNight(n)
	f.expectAll(now)
}

func (f *Fold) layNight(n garden.Date) {
	zone := f.st.Cal.Zone
	y, m, d := n.Civil()
	clock := func(day, hour int) time.Time { return time.Date(y, m, d+day, hour, 0, 0, 0, zone).UTC() }
	c := nightClock{date: n, known: true, next: clock(1, 12), lows: clock(1, 8)}
	c.hours[indices.FrostAt15], c.hours[indices.FrostAt18] = clock(0, 15), clock(0, 18)
	site := f.st.Garden.Site
	if !math.IsNaN(site.Latitude) && !math.IsNaN(site.Longitude) {
		sun := indices.Sun{Latitude: site.Latitude, Longitude: site.Longitude, Zone: zone}
		if _, set, ok := sun.Day(n); ok {
			c.sunset, c.hours[indices.FrostAtDusk] = set, set.Add(2*time.Hour)
		}
	}
	f.clk = c
}

// closeNight learns from the night that is over: each place's own minimum, and how it differed from the reference place's.
func (f *Fold) closeNight() {
	ref := f.reference()
	for i := range f.places {
		pl, n := &f.places[i], &f.places[i].night
		if n.from.IsZero() {
			continue
		}
		pl.lows.Add(int(f.clk.date), n.min)
		if !n.whole(&f.clk) {
			continue
		}
		n.fit.Add(n.learn(f.humid()), n.sky, float64(n.min)/1000)
		for h, e := range n.evening {
			if e.OK {
				n.falls[h].add(int64(math.Round(e.T*1000)) - n.min)
			}
		}
		if r := &f.places[max(ref, 0)].night; ref >= 0 && ref != i && r.whole(&f.clk) {
			pl.offset.Add(n.min, r.min, false)
			last := float64(n.min-r.min) / 1000
			f.st.Places[i].Offset = Interval{last, last, true}
		}
	}
	for i := range f.places {
		f.places[i].night = nightFold{fit: f.places[i].night.fit, falls: f.places[i].night.falls}
	}
}

// learn gives the evening as the fit takes it: in a garden that measures no humidity the air itself stands in for the dew point,
// which leaves a line on temperature alone.
func (n *nightFold) learn(humid bool) [3]indices.FrostEvening {
	e := n.evening
	for i := range e {
		if e[i].OK && !humid {
			e[i].Dew, e[i].DewOK = e[i].T, true
		}
	}
	return e
}

func (f *Fold) humid() bool {
	for i := range f.st.Probes {
		if f.st.Probes[i].Probe.Measures == garden.AirHumidity {
			return true
		}
	}
	return false
}

// reference is the place others are measured against: the shaded wall, or failing that the first place without a roof that
// has a thermometer; -1 when there is none.
func (f *Fold) reference() int {
	open := -1
	for i := range f.st.Places {
		p := &f.st.Places[i]
		switch {
		case p.AirAt.IsZero():
		case p.Place.Shaded:
			return i
		case !p.Place.Roof && open < 0:
			open = i
		}
	}
	return open
}

// night takes an air reading of a place into its night and, at the three hours, into tonight's estimate.
func (f *Fold) night(at time.Time, pi int, v int64) {
	n, c := &f.places[pi].night, &f.clk
	if n.from.IsZero() {
		n.from, n.min = at, v
	} else if at.Sub(n.last) > nightHole {
		n.holed = true
	}
	n.last, n.min = at, min(n.min, v)
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

// expect works out what the coming night's minimum at a place is thought to be, by the best that is known.
func (f *Fold) expect(now time.Time, pi int) {
	pl, ps := &f.places[pi], &f.st.Places[pi]
	ps.Expected, ps.ExpectedHow, ps.ExpectedFirm = Interval{}, "", false
	set := func(low, err float64, how string, firm bool) {
		ps.Expected, ps.ExpectedHow, ps.ExpectedFirm = Interval{low - err, low + err, true}, how, firm
	}
	n := &pl.night
	switch {
	case f.forecastFresh(now, pi):
		set(float64(pl.forecast)/1000, 0, HowForecast, true)
	case f.fromForecastElsewhere(now, pi, set):
	case n.estHow != "":
		set(n.est.Low, n.est.Err, n.estHow, true)
	case n.est != (indices.FrostEstimate{}):
		set(n.est.Low, n.est.Err, n.early, false)
	case ps.AirAt.IsZero():
		f.fromNeighbour(pi, set)
	default:
		if low, err, ok := pl.lows.Ahead(); ok {
			set(float64(low)/1000, float64(err)/1000, HowLastMinima, false)
		}
	}
}

func (f *Fold) expectAll(now time.Time) {
	for i := range f.st.Places {
		f.expect(now, i)
	}
}

// forecast takes a forecast of the coming night's minimum at a place.
func (f *Fold) forecast(at time.Time, pi int, v int64) {
	pl := &f.places[pi]
	news := v != pl.forecast || !f.forecastFresh(at, pi)
	pl.forecast, pl.fcAt = v, at
	if news {
		f.expectAll(at)
	}
}

func (f *Fold) forecastFresh(now time.Time, pi int) bool {
	at := f.places[pi].fcAt
	return !at.IsZero() && now.Sub(at) < forecastFresh
}

// fromForecastElsewhere carries a forecast over from the first place that has one, by the learned difference of their minima.
func (f *Fold) fromForecastElsewhere(now time.Time, pi int, set func(low, err float64, how string, firm bool)) bool {
	for i := range f.places {
		if i == pi || !f.forecastFresh(now, i) || f.st.Places[pi].AirAt.IsZero() {
			continue
		}
		here, errHere := f.offsetOf(pi)
		there, errThere := f.offsetOf(i)
		set((float64(f.places[i].forecast)+float64(here-there))/1000, math.Hypot(errHere, errThere), HowElsewhere, true)
		return true
	}
	return false
}

// offsetOf is how much warmer than the reference a place's clear nights are, m°C, with its spread in °C.
func (f *Fold) offsetOf(pi int) (indices.Milli, float64) {
	if pi == f.reference() {
		return 0, 0
	}
	o, spread, guess := f.places[pi].offset.Offset(false)
	if guess && !f.st.Places[pi].Place.Roof {
		o = 0
	}
	return o, spread
}

// fromNeighbour serves a place that has no thermometer of its own: the first place of the same kind of roof speaks for it.
func (f *Fold) fromNeighbour(pi int, set func(low, err float64, how string, firm bool)) {
	for i := range f.st.Places {
		p := &f.st.Places[i]
		if i != pi && !p.AirAt.IsZero() && p.Place.Roof == f.st.Places[pi].Place.Roof && p.Expected.OK && p.ExpectedHow != HowNeighbour {
			set((p.Expected.Low+p.Expected.High)/2, (p.Expected.High-p.Expected.Low)/2, HowNeighbour, p.ExpectedFirm)
			return
		}
	}
}

// Mid is the middle of what is expected, °C.
func (i Interval) Mid() float64 { return (i.Low + i.High) / 2 }

// A newest reading of the whole garden, for what differs little within it.
type newest struct {
	at time.Time
	v  int64
}

func (n newest) known(now time.Time) bool { return !n.at.IsZero() && now.Sub(n.at) < time.Hour }

// Shelter is the roofed place expected to stay warmest tonight, for pots that stand at a place without a roof; nil when there is
// none.
func (st *Standing) Shelter(from string) *PlaceStanding {
	at := st.place(from)
	if at == nil || at.Place.Roof {
		return nil
	}
	var best *PlaceStanding
	for i := range st.Places {
		p := &st.Places[i]
		if p.Place.Roof && p.Expected.OK && (best == nil || p.Expected.Mid() > best.Expected.Mid()) {
			best = p
		}
	}
	return best
}

// LeafBelowAir is by how much a leaf at a place is colder than the air on a clear still night: the cautious side where the sky
// is not known.
func (p *PlaceStanding) LeafBelowAir() units.MilliCelsius {
	return units.MilliCelsius(indices.LeafBelowAir(p.Place.Roof, 1))
}
