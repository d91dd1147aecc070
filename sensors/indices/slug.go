package indices

import "time"

// Temperatures of slug activity in m°C. Active 4.4 to 21.1 °C, best 15.6, none under 1.1 or over 29.4 (Oregon State University
// slug pages); yet grazing at 1 °C did a third of the damage of a week (Folia Malacol. 19, 2011), so there is no safe 5 °C.
const (
	slugNone  Milli = 0
	slugCold  Milli = 1000
	slugFrom  Milli = 4400
	slugBest  Milli = 15600
	slugTop   Milli = 16000
	slugWarm  Milli = 18000
	slugTo    Milli = 21100
	slugDead  Milli = 29400
	slugLow   Milli = 1100
	slugShare       = 0.34 // at 1 °C
)

// SlugFactor grades a night temperature in m°C from 0 (no slug moves) to 1.
func SlugFactor(t Milli) float64 {
	line := func(a, b Milli, from, to float64) float64 { return from + (to-from)*float64(t-a)/float64(b-a) }
	switch {
	case t <= slugNone || t >= slugDead:
		return 0
	case t < slugCold:
		return line(slugNone, slugCold, 0, slugShare)
	case t < slugTop:
		return line(slugCold, slugTop, slugShare, 1)
	case t <= slugWarm:
		return 1
	}
	return line(slugWarm, slugDead, 1, 0)
}

// Night window and limits of the slug index (hours local). Five hours make a bad night: a guess.
const (
	slugNightFrom       = 20
	slugNightTo         = 6
	slugAirFrom   Milli = 3000
	slugAirTo     Milli = 20000
	slugRH              = 900  // ‰RH
	slugWind            = 2200 // mm/s: 5 mph
	slugBad             = 5 * time.Hour
	slugFreeze    Milli = -3000 // a hard freeze: a guess
	slugVoid            = 4     // nights after one
)

// NightAir is one round of night air. Wet means the surface is known wet (rain in the last day, a wetness probe).
type NightAir struct {
	Air         Milli // m°C
	RH          int64 // ‰RH over water
	Wind        int64 // mm/s
	AirOK, RHOK bool
	WindOK, Wet bool
	Hour        int // local, 0 to 23
	Night       int // number of the night (noon to noon), one up a day
}

// SlugNights counts, night by night, the hours slugs like. The zero value is ready.
type SlugNights struct {
	night      int
	any        bool
	last       time.Time
	good       bool
	hours      time.Duration
	graded     float64
	frozenAt   int
	frozen     bool
	seen, span time.Duration
}

// Take feeds one round. An hour counts from 20:00 to 06:00 with the air at 3 to 20 °C, the humidity over 90 % or the surface wet, and
// no wind known over 2.2 m/s. A night with neither humidity nor wetness known counts nothing.
func (s *SlugNights) Take(now time.Time, a NightAir) {
	if s.any && a.Night != s.night {
		s.hours, s.graded, s.seen, s.span, s.good = 0, 0, 0, 0, false
	}
	dt := now.Sub(s.last)
	if !s.any || dt > gateLost {
		dt = 0
	}
	s.any, s.night, s.last = true, a.Night, now
	if a.AirOK && a.Air <= slugFreeze {
		s.frozen, s.frozenAt = true, a.Night
	}
	if s.good { // what held at the start of the stretch held through it
		s.hours += dt
		s.graded += dt.Hours() * SlugFactor(a.Air)
	}
	if a.Hour < slugNightFrom && a.Hour >= slugNightTo {
		s.good = false
		return
	}
	wet := a.Wet || a.RHOK && a.RH > slugRH
	s.good = a.AirOK && wet && a.Air >= slugAirFrom && a.Air <= slugAirTo && !(a.WindOK && a.Wind >= slugWind)
	s.span += dt
	if a.AirOK && (a.RHOK || a.Wet) {
		s.seen += dt
	}
}

// Void says that the present night lies within four of a hard freeze: slugs take that long to come back.
func (s *SlugNights) Void() bool { return s.frozen && s.night-s.frozenAt <= slugVoid }

// Hours gives the good hours of the present night so far, 0 in a void night.
func (s *SlugNights) Hours() time.Duration {
	if s.Void() {
		return 0
	}
	return s.hours
}

// Bad says that this night has had five good hours.
func (s *SlugNights) Bad() bool { return s.Hours() >= slugBad }

// Graded gives the night's good hours weighted by how well slugs like the temperature.
func (s *SlugNights) Graded() float64 {
	if s.Void() {
		return 0
	}
	return s.graded
}

// Observed is the share of the night so far in which air and wetness were known.
func (s *SlugNights) Observed() float64 {
	if s.span == 0 {
		return 0
	}
	return s.seen.Hours() / s.span.Hours()
}

// Grey mould on a test plant: none at 10 °C even after a day of wet, 6 to 8 h of wet needed at 15 °C and 4 h at 21 °C (Plant
// Disease 80, 1996, 160).
const (
	mouldFrom Milli = 12000
	mouldRH         = 950
	mouldNear Milli = 500
	mouldGap        = 4 * time.Hour // dry for longer ends a run
)

// MouldRun sums wet hours warm enough for grey mould in one run. The zero value is ready.
type MouldRun struct {
	last, lastWet time.Time
	wet           bool
	sum           time.Duration
	degrees       float64 // wet hours times °C, for the mean
}

// Take feeds air in m°C, humidity in ‰RH and dew point in m°C; leaf is the leaf or, without one, the air. A leaf within 0.5 °C
// of the dew point is wet.
func (m *MouldRun) Take(now time.Time, air Milli, rh int64, leaf, dew Milli, ok bool) {
	dt := now.Sub(m.last)
	if m.last.IsZero() || dt > gateLost {
		dt, m.wet = 0, false
	}
	m.last = now
	if m.wet {
		m.sum += dt
		m.degrees += dt.Hours() * float64(air) / 1000
	}
	m.wet = ok && air >= mouldFrom && (rh > mouldRH || leaf-dew <= mouldNear)
	if m.wet {
		m.lastWet = now
	} else if now.Sub(m.lastWet) > mouldGap {
		m.sum, m.degrees = 0, 0
	}
}

// Run gives the wet hours of the present run, their mean temperature in °C, and whether they are enough for infection.
func (m *MouldRun) Run() (wet time.Duration, meanC float64, enough bool) {
	if m.sum == 0 {
		return 0, 0, false
	}
	meanC = m.degrees / m.sum.Hours()
	return m.sum, meanC, m.sum.Hours() >= MouldHours(meanC)
}

// MouldHours is how long the wet must last at a temperature in °C: the line through 7 h at 15 and 4 h at 21 °C, at least 3.
func MouldHours(t float64) float64 {
	return max(3, 7-(t-15)/2)
}
