package indices

import "time"

// HourlyOffset learns how much warmer one place is than another by hour of day: a mean that forgets over about a fortnight. The
// zero value is ready.
type HourlyOffset struct {
	hours [24]offsetHour
	hour  int
	sum   int64
	n     int64
}

type offsetHour struct {
	mean int64 // µ°C
	n    int64
}

const offsetMemory = 14

// Take feeds both airs in m°C with the local hour of day.
func (o *HourlyOffset) Take(hour int, place, ref Milli) {
	if o.n > 0 && hour != o.hour {
		h := &o.hours[o.hour]
		h.n = min(h.n+1, offsetMemory)
		h.mean += (o.sum*1000/o.n - h.mean) / h.n
		o.sum, o.n = 0, 0
	}
	o.hour, o.sum, o.n = hour, o.sum+place-ref, o.n+1
}

// At gives the mean offset in m°C at an hour and from how many days, at most 14.
func (o *HourlyOffset) At(hour int) (offset Milli, days int) {
	h := o.hours[(hour%24+24)%24]
	return h.mean / 1000, int(h.n)
}

// Limits of the heat pocket (growers' reports of frames; the numbers are guesses): a place 6 °C over the shaded wall for 2 h in
// daylight, gone at night, on 2 of 3 bright days. Whether the air is hot or only the sensor is told by the pots: their cores
// there rise 2 °C more than elsewhere, or not.
const (
	pocketOver   Milli = 6000
	pocketFor          = 2 * time.Hour
	pocketCore   Milli = 2000
	pocketNight  Milli = 2000
	pocketAnswer       = 2 * time.Hour // a pot's core lags the air by 3 to 5 h, but begins to move at once
	pocketDays         = 3
)

// HeatVerdict is what stands behind a hot place.
type HeatVerdict uint8

// The verdicts. HeatUnknown: there is no shaded reference, or no pots to ask.
const (
	HeatNone HeatVerdict = iota
	HeatPocket
	HeatSunOnSensor
	HeatUnknown
)

func (v HeatVerdict) String() string {
	return [...]string{"none", "heat pocket", "sun on the sensor", "cannot tell"}[v]
}

// PocketRound is one round at a place: its air, the shaded wall's, the warmest pot core there and the mean core elsewhere, all in
// m°C with whether they were read.
type PocketRound struct {
	Day                        int  // civil day, one up a day
	Daylight                   bool // the sun is up
	Dull                       bool // known not to be bright
	Air, Wall, Here, Elsewhere Milli
	AirOK, WallOK              bool
	HereOK, ElseOK             bool
}

// HeatPockets tells a heat pocket from a sensor standing in the sun. The zero value is ready.
type HeatPockets struct {
	day       int
	any       bool
	last      time.Time
	over      bool
	sum       time.Duration // over the limit today
	ended     time.Time     // when the air fell below it again
	peak      Milli
	dull      bool
	hereLow   Milli
	elseLow   Milli
	coresFrom bool
	gain      Milli // how much more the cores here rose today
	gainOK    bool
	night     bool // the difference stayed at night
	ref       time.Time
	days      []pocketDay
}

type pocketDay struct {
	day  int
	hit  bool
	peak Milli
}

// Take feeds one round.
func (p *HeatPockets) Take(now time.Time, r PocketRound) {
	if p.any && r.Day != p.day {
		p.closeDay(r.Day)
	}
	dt := now.Sub(p.last)
	if !p.any || dt > gateLost {
		dt, p.over = 0, false
	}
	p.any, p.day, p.last = true, r.Day, now
	p.dull = p.dull || r.Dull
	if r.WallOK {
		p.ref = now
	}
	if r.AirOK && r.WallOK {
		p.takeDiff(now, dt, r)
	}
	p.takeCores(r)
}

func (p *HeatPockets) takeDiff(now time.Time, dt time.Duration, r PocketRound) {
	d := r.Air - r.Wall
	if !r.Daylight {
		p.night = p.night || d > pocketOver-pocketNight
		p.over = false
		return
	}
	if p.over {
		p.sum += dt
	}
	was := p.over
	p.over = d > pocketOver
	p.peak = max(p.peak, d)
	if was && !p.over {
		p.ended = now
	}
}

func (p *HeatPockets) takeCores(r PocketRound) {
	if !r.HereOK || !r.ElseOK {
		return
	}
	if !p.coresFrom {
		p.hereLow, p.elseLow, p.coresFrom = r.Here, r.Elsewhere, true
	}
	p.hereLow, p.elseLow = min(p.hereLow, r.Here), min(p.elseLow, r.Elsewhere)
	if r.Daylight || p.sum > 0 {
		p.gain, p.gainOK = max(p.gain, (r.Here-p.hereLow)-(r.Elsewhere-p.elseLow)), true
	}
}

func (p *HeatPockets) closeDay(next int) {
	if !p.dull {
		p.days = append(p.days, pocketDay{p.day, p.hitToday(), p.peak})
	}
	for len(p.days) > 0 && (len(p.days) > pocketDays-1 || next-p.days[0].day > 10) {
		p.days = p.days[1:]
	}
	p.sum, p.ended, p.peak, p.dull, p.over = 0, time.Time{}, 0, false, false
	p.coresFrom, p.gain, p.gainOK, p.night = false, 0, false, false
}

func (p *HeatPockets) hitToday() bool { return p.sum >= pocketFor && !p.night }

// Verdict gives what is known now: a pocket once the hot spell of the second bright day in three is over and the pots' cores have
// answered, sun on the sensor when they have not moved two hours later. peak is the greatest excess over the wall in m°C on those days.
func (p *HeatPockets) Verdict() (v HeatVerdict, peak Milli) {
	if p.ref.IsZero() || p.last.Sub(p.ref) > 24*time.Hour {
		return HeatUnknown, 0
	}
	hits := 0
	for _, d := range p.days {
		if d.hit {
			hits++
			peak = max(peak, d.peak)
		}
	}
	if !p.hitToday() || p.over || p.dull || hits+1 < 2 {
		return HeatNone, 0
	}
	peak = max(peak, p.peak)
	switch {
	case p.gainOK && p.gain >= pocketCore:
		return HeatPocket, peak
	case p.last.Sub(p.ended) < pocketAnswer:
		return HeatNone, 0
	case !p.gainOK:
		return HeatUnknown, peak
	}
	return HeatSunOnSensor, peak
}

// Offset says how far the place's air stood over the wall at most today, in m°C.
func (p *HeatPockets) Offset() Milli { return p.peak }

// Cleared forgets the days so far: the keeper took the glass away.
func (p *HeatPockets) Cleared() { p.days = nil }
