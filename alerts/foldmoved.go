package alerts

import (
	"math"
	"time"

	"lathwatch/sensors/garden"
)

// A pot carried elsewhere without a word shows it at night: its temperature follows the other place's air, some hours late. By day
// sun and shade confuse the comparison, so only the hours from 18:00 to 09:00 count. A thermometer that is off by a constant must not
// look like another place, so what the pot differs from its own place must also rise and fall with what that place does. All
// figures are guesses.
const (
	movedNights = 3
	movedShare  = 0.5  // the other place's error must be under this share of its own place's
	movedApart  = 500  // m°C by which it must be smaller
	movedStill  = 350  // m°C: airs nearer to each other than this tell nothing
	movedLag    = 3.5  // hours by which a 3 L pot lags the air
	movedLeast  = 5.0  // hours of the night that must have been seen
	movedIce    = 1000 // m°C: latent heat hides what the air does
	movedFrom   = 18
	movedUntil  = 9
	movedSlope  = 0.6 // of the pot's difference on the places' difference: 1 there, 0 here
	movedSpread = 200 // m°C by which the places' difference must have varied
)

// movedFold compares a pot's nights with the air of every place.
type movedFold struct {
	air    []laggedAir // by place
	night  garden.Date
	hours  float64
	last   time.Time
	spoilt bool
	run    int
	to     int // place whose air it followed in the run
}

type laggedAir struct {
	at    time.Time
	v     float64 // m°C, late by the pot's lag
	since time.Time
	sq    float64 // of pot minus it, over the night, m°C²·h
	apart float64 // of it minus the own place's
	hours float64
	d, e  float64 // over the nights of the run: of the pot minus the own place's, of this place's minus the own place's
	de    float64
	ee    float64
	all   float64 // hours
}

// slope is how much of the places' difference the pot shows, and how much that difference varied, m°C.
func (a *laggedAir) slope() (slope, spread float64) {
	if a.all <= 0 {
		return 0, 0
	}
	ve := a.ee/a.all - a.e/a.all*(a.e/a.all)
	if ve <= 0 {
		return 0, 0
	}
	return (a.de/a.all - a.d/a.all*(a.e/a.all)) / ve, math.Sqrt(ve)
}

// moved is asked every quarter of an hour for each pot.
func (f *Fold) moved(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if pf.place < 0 || !ps.TempOwn || len(f.st.Places) < 2 {
		return
	}
	m := &pf.moved
	if len(m.air) != len(f.st.Places) {
		*m = movedFold{air: make([]laggedAir, len(f.st.Places))}
	}
	f.lagAirs(now, i)
	hour := now.In(f.st.Cal.Zone).Hour()
	if n := f.st.Cal.Night(now); n != m.night {
		f.closeMoved(i)
		m.night = n
	}
	if hour < movedFrom && hour >= movedUntil || now.Sub(ps.TempAt) > shelterFresh {
		m.last = time.Time{}
		return
	}
	dt := 0.0
	if !m.last.IsZero() {
		dt = min(now.Sub(m.last).Hours(), 1)
	}
	m.last = now
	m.spoilt = m.spoilt || ps.Temp < movedIce
	m.hours += dt
	own := &m.air[pf.place]
	for k := range m.air {
		a := &m.air[k]
		if a.at.IsZero() || own.at.IsZero() || now.Sub(a.since) < 12*time.Hour || now.Sub(own.since) < 12*time.Hour {
			continue
		}
		d, e, o := float64(ps.Temp)-a.v, a.v-own.v, float64(ps.Temp)-own.v
		a.sq, a.apart, a.hours = a.sq+d*d*dt, a.apart+e*e*dt, a.hours+dt
		a.d, a.e, a.de, a.ee, a.all = a.d+o*dt, a.e+e*dt, a.de+o*e*dt, a.ee+e*e*dt, a.all+dt
	}
}

// lagAirs moves each place's air, as the pot would feel it, on to now.
func (f *Fold) lagAirs(now time.Time, i int) {
	pf := &f.pots[i]
	tau := movedLag
	if l := f.st.Pots[i].Pot.Litres.Litres(); l > 0 {
		tau *= math.Cbrt(l / 3)
	}
	for k := range pf.moved.air {
		a, p := &pf.moved.air[k], &f.st.Places[k]
		if p.AirAt.IsZero() || now.Sub(p.AirAt) > shelterFresh {
			continue
		}
		if dt := now.Sub(a.at); a.at.IsZero() || dt > gapLimit {
			a.v, a.since = float64(p.Air), now
		} else {
			a.v += (float64(p.Air) - a.v) * (1 - math.Exp(-dt.Hours()/tau))
		}
		a.at = now
	}
}

// closeMoved judges the night that is over and adds it to the run, or breaks it. A night that tells nothing does neither.
func (f *Fold) closeMoved(i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	m := &pf.moved
	own, best := m.air[pf.place], -1
	rms := func(a laggedAir) float64 { return math.Sqrt(a.sq / a.hours) }
	for k, a := range m.air {
		if k != pf.place && a.hours >= movedLeast && (best < 0 || rms(a) < rms(m.air[best])) {
			best = k
		}
	}
	switch {
	case m.spoilt || best < 0 || own.hours < movedLeast:
	case math.Sqrt(m.air[best].apart/m.air[best].hours) < movedStill:
	case rms(m.air[best]) < movedShare*rms(own) && rms(own)-rms(m.air[best]) >= movedApart:
		if m.to != best {
			m.run = 0
		}
		m.run, m.to = m.run+1, best
	default:
		m.run = 0
	}
	for k := range m.air {
		if m.run == 0 || m.to != k {
			m.air[k].d, m.air[k].e, m.air[k].de, m.air[k].ee, m.air[k].all = 0, 0, 0, 0, 0
		}
		m.air[k].sq, m.air[k].apart, m.air[k].hours = 0, 0, 0
	}
	m.hours, m.spoilt, m.last = 0, false, time.Time{}
	ps.Elsewhere = ""
	if m.run < movedNights {
		return
	}
	if slope, spread := m.air[m.to].slope(); slope >= movedSlope && spread >= movedSpread {
		ps.Elsewhere = f.st.Places[m.to].Place.ID
	}
}
