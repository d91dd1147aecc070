package alerts

import (
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/units"
)

// Round folds one round.
func (f *Fold) Round(r *sensors.Round) {
	if f.st.Garden == nil {
		return
	}
	f.clock(r)
	f.nights(r.At)
	for i := range r.Faults {
		f.fault(r.At, &r.Faults[i])
	}
	for i := range r.Readings {
		f.reading(r.At, &r.Readings[i])
	}
	if h := r.At.Unix() / 3600; h != f.hour {
		f.hour = h
		f.expectAll(r.At)
	}
	f.st.AnyRisen = false
	for i := range f.pots {
		f.pot(r.At, i)
		s := f.st.Pots[i].Stage
		f.st.AnyRisen = f.st.AnyRisen || s >= Nose && s < LeafDown
	}
	f.shelter(r.At)
	for i := range f.st.Probes {
		f.st.Probes[i].Silent = f.probes[i].trace.Silent(r.At)
	}
}

// clock moves the Standing to the round's instant and notices a gap and a new season.
func (f *Fold) clock(r *sensors.Round) {
	f.st.At = r.At
	if d := f.st.Cal.DateOf(r.At); d != f.st.Day || !f.begun {
		f.closeSeason(d)
		f.st.Day = d
		f.season(f.st.Cal.Season(d))
	}
	if len(r.Readings) == 0 {
		return
	}
	f.gap(r)
}

func (f *Fold) fault(at time.Time, ft *sensors.Fault) {
	i, ok := f.slot[ft.Probe]
	if !ok {
		return
	}
	p := &f.st.Probes[i]
	f.probes[i].answers.count(at.Unix()/3600, 0, 1)
	if p.Fault == 0 {
		p.FaultSince = at
	}
	p.Fault, p.FaultWhy = ft.Kind, ft.Why
}

func (f *Fold) reading(at time.Time, r *sensors.Reading) {
	i, ok := f.slot[r.Probe]
	if !ok {
		return
	}
	p := &f.st.Probes[i]
	f.probes[i].answers.count(at.Unix()/3600, 1, 0)
	p.Last, p.LastAt, p.Quality = *r, at, r.Quality
	if r.Quality != sensors.Valid {
		return
	}
	p.Fault, p.FaultWhy = 0, ""
	pf := &f.probes[i]
	v := r.Whole()
	pf.trace.Take(at, v)
	p.Spacing = pf.trace.Usual()
	switch p.Probe.Measures {
	case garden.AirTemperature:
		f.air(at, i, v+offsetAt(p.Probe, at))
	case garden.AirHumidity:
		if pf.place >= 0 {
			f.st.Places[pf.place].Humidity, f.st.Places[pf.place].HumidityAt = units.PerMilleRH(v), at
		}
	case garden.Rain:
		f.rain(at, pf.place, v)
	case garden.ForecastMin:
		if pf.place >= 0 {
			f.forecast(at, pf.place, v)
		}
	case garden.Wind:
		f.wind = newest{at, v}
	case garden.Light:
		f.light = newest{at, v}
	case garden.PotMoisture, garden.PotWeight:
		f.moisture(at, i, r.Unit(), v)
	case garden.Battery:
		f.battery(at, i, r)
	}
}

func offsetAt(p *garden.Probe, at time.Time) int64 {
	add := int64(0)
	for _, o := range p.Offset {
		if !o.From.After(at) {
			add = int64(o.Add)
		}
	}
	return add
}

// air folds an air reading into its place. The first air probe of the place that answers in a round speaks for it.
func (f *Fold) air(at time.Time, slot int, v int64) {
	pi := f.probes[slot].place
	if pi < 0 {
		return
	}
	pl, ps := &f.places[pi], &f.st.Places[pi]
	if ps.AirAt.Equal(at) {
		return
	}
	if _, _, began := pl.trace.Last(); !began {
		ps.Yardsticks.first(at, v)
	}
	if seg, ok := pl.trace.Take(at, v); ok {
		ps.Yardsticks.segment(seg)
		pl.days.Take(seg, func(d indices.Day) { f.placeDay(pi, d) })
	}
	if f.st.Cal.DateOf(ps.AirAt) != f.st.Day || ps.AirAt.IsZero() {
		ps.DayMin, ps.DayMax = units.MilliCelsius(v), units.MilliCelsius(v)
	}
	ps.Air, ps.AirAt = units.MilliCelsius(v), at
	ps.DayMin, ps.DayMax = min(ps.DayMin, ps.Air), max(ps.DayMax, ps.Air)
	pl.trendTake(at, v)
	ps.Trend = pl.trendNow(at, v)
	f.degreeDays(pi)
	f.night(at, pi, v)
	f.frostAhead(at, pi)
}

func (pl *placeFold) trendTake(at time.Time, v int64) {
	if h := at.Truncate(time.Hour); !pl.trend[0].at.Equal(h) {
		copy(pl.trend[1:], pl.trend[:3])
		pl.trend[0] = trendPoint{h, v}
	}
}

func (pl *placeFold) trendNow(at time.Time, v int64) Interval {
	old := pl.trend[3]
	dt := at.Sub(old.at)
	if old.at.IsZero() || dt > 5*time.Hour {
		return Interval{}
	}
	slope := float64(v-old.v) / 1000 / dt.Hours()
	return Interval{slope, slope, true}
}

func (f *Fold) degreeDays(pi int) {
	pl, ps := &f.places[pi], &f.st.Places[pi]
	s := pl.sum
	s.Add(pl.days.Today.Above, pl.days.Today.Covered, pl.days.Today.Missed, pl.gapRate())
	low, high := s.DegreeDays()
	ps.DegreeDays, ps.Observed = Interval{low, high, true}, s.Observed()
}

func (pl *placeFold) gapRate() int64 {
	return indices.GapRate(pl.lastDay.Max, pl.days.Today.Max, pl.hasDay, 5000)
}

// placeDay closes a civil day of a place.
func (f *Fold) placeDay(pi int, d indices.Day) {
	pl := &f.places[pi]
	if f.st.Cal.Season(d.Date) == f.st.Season {
		pl.sum.Add(d.Above, d.Covered, d.Missed, pl.gapRate())
	}
	if d.Covered > 0 {
		pl.lastDay, pl.hasDay = d, true
	}
	if mean, ok := d.Mean(); ok && 2*d.Covered > d.Length && pi == f.reference() {
		f.year.take(d.Date, mean)
		f.st.UpsideDown = f.year.upsideDown(f.st.Cal.South)
	}
}

func (f *Fold) rain(at time.Time, pi int, v int64) {
	if pi < 0 {
		return
	}
	pl, ps := &f.places[pi], &f.st.Places[pi]
	h := at.Unix() / 3600
	b := &pl.rain[h%int64(len(pl.rain))]
	if b.hour != h {
		*b = rainHour{hour: h}
	}
	b.sum += v
	day, week := int64(0), int64(0)
	for _, r := range pl.rain {
		if r.hour > h-24 {
			day += r.sum
		}
		if r.hour > h-weekHours {
			week += r.sum
		}
	}
	ps.Rain24, ps.RainWeek, ps.RainKnown = units.MicroMetre(day), units.MicroMetre(week), true
}
