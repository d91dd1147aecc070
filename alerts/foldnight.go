package alerts

import (
	"math"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// nightClock holds the instants of the present night that every round is compared with.
type nightClock struct {
	date   garden.Date
	known  bool
	next   time.Time // the noon that ends it
	hours  [3]time.Time
	sunset time.Time
	lows   time.Time // from here on its minimum is likely known
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
