package alerts

import (
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// Heat is what stands behind a place that is hotter than the shaded reference.
type Heat = indices.HeatVerdict

// shelterStep is how often the slow questions about places are asked: heat pockets, slug nights and snow move over hours.
const shelterStep = 15 * time.Minute

// air older than this says nothing in the slow questions.
const shelterFresh = 35 * time.Minute

// shelter asks the slow questions: is the shelter a heat pocket, is this a slug night, does snow lie on the pots.
func (f *Fold) shelter(now time.Time) {
	q := now.Unix() / int64(shelterStep/time.Second)
	if q == f.quarter {
		return
	}
	f.quarter = q
	if f.sunDay != f.st.Day || f.sunUp.IsZero() {
		f.laySun()
	}
	ref := f.shaded()
	for i := range f.places {
		f.pocket(now, i, ref)
		f.slugs(now, i)
		f.mould(now, i)
	}
	for i := range f.pots {
		f.snow(now, i)
		f.plateau(now, i)
		f.moved(now, i)
	}
}

func (f *Fold) laySun() {
	f.sunDay = f.st.Day
	site := f.st.Garden.Site
	sun := indices.Sun{Latitude: site.Latitude, Longitude: site.Longitude, Zone: f.st.Cal.Zone}
	if rise, set, ok := sun.Day(f.st.Day); ok {
		f.sunUp, f.sunDown = rise, set
		return
	}
	y, m, d := f.st.Day.Civil() // near the poles, or without a position: a grower's day
	f.sunUp, f.sunDown = time.Date(y, m, d, 8, 0, 0, 0, f.st.Cal.Zone), time.Date(y, m, d, 18, 0, 0, 0, f.st.Cal.Zone)
}

// shaded is the place said to stand in the pole-facing wall's shade and having a thermometer; -1 when there is none.
func (f *Fold) shaded() int {
	for i := range f.st.Places {
		if p := &f.st.Places[i]; p.Place.Shaded && !p.AirAt.IsZero() {
			return i
		}
	}
	return -1
}

func (f *Fold) pocket(now time.Time, pi, ref int) {
	ps := &f.st.Places[pi]
	if ps.AirAt.IsZero() || ps.Place.Shaded {
		return
	}
	r := indices.PocketRound{Day: int(f.st.Day), Daylight: !now.Before(f.sunUp) && now.Before(f.sunDown),
		Air: int64(ps.Air), AirOK: now.Sub(ps.AirAt) <= shelterFresh}
	if ref >= 0 {
		w := &f.st.Places[ref]
		r.Wall, r.WallOK = int64(w.Air), now.Sub(w.AirAt) <= shelterFresh
	}
	f.cores(now, pi, &r)
	pk := &f.places[pi].pockets
	pk.Take(now, r)
	v, peak := pk.Verdict()
	ps.Heat, ps.HeatKnown, ps.HeatPeak = v, true, float64(peak)/1000
	if v == indices.HeatPocket || v == indices.HeatSunOnSensor {
		ps.HeatAt = now
	}
}

// cores fills in the warmest pot core at a place and the mean of the cores elsewhere.
func (f *Fold) cores(now time.Time, pi int, r *indices.PocketRound) {
	sum, n := int64(0), int64(0)
	for i := range f.pots {
		ps := &f.st.Pots[i]
		if !ps.TempOwn || now.Sub(ps.TempAt) > shelterFresh {
			continue
		}
		v := int64(ps.Temp)
		if f.pots[i].place != pi {
			sum, n = sum+v, n+1
		} else if !r.HereOK || v > r.Here {
			r.Here, r.HereOK = v, true
		}
	}
	if n > 0 {
		r.Elsewhere, r.ElseOK = sum/n, true
	}
}

func (f *Fold) slugs(now time.Time, pi int) {
	ps := &f.st.Places[pi]
	a := indices.NightAir{Air: int64(ps.Air), AirOK: !ps.AirAt.IsZero() && now.Sub(ps.AirAt) <= shelterFresh,
		Hour: now.In(f.st.Cal.Zone).Hour(), Night: int(f.clk.date)}
	a.RH, a.RHOK = f.dampAt(now, pi)
	if f.wind.known(now) {
		a.Wind, a.WindOK = f.wind.v, true
	}
	a.Wet = ps.RainKnown && ps.Rain24 > 0 && !ps.Place.Roof
	s := &f.places[pi].slugs
	s.Take(now, a)
	ps.SlugHours, ps.SlugNight = s.Hours().Hours(), s.Bad()
}

// placeDone: the keeper did something about the place (took the glass away): what was found before is forgotten.
func (f *Fold) placeDone(pi int) {
	f.places[pi].pockets.Cleared()
	f.st.Places[pi].OpenedUp++
}

// dampAt is the humidity at a place or, failing that, at the first place where it is known.
func (f *Fold) dampAt(now time.Time, pi int) (int64, bool) {
	known := func(i int) bool {
		p := &f.st.Places[i]
		return !p.HumidityAt.IsZero() && now.Sub(p.HumidityAt) <= shelterFresh
	}
	if known(pi) {
		return int64(f.st.Places[pi].Humidity), true
	}
	for i := range f.st.Places {
		if known(i) {
			return int64(f.st.Places[i].Humidity), true
		}
	}
	return 0, false
}

func (f *Fold) snow(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if !ps.TempOwn || pf.place < 0 || now.Sub(ps.TempAt) > shelterFresh {
		ps.Snow = false
		return
	}
	air := &f.st.Places[pf.place]
	if air.AirAt.IsZero() || now.Sub(air.AirAt) > shelterFresh {
		ps.Snow = false
		return
	}
	bright := f.light.known(now) && f.light.v > snowBright
	pf.snow.Take(now, int64(ps.Temp), int64(air.Air), bright)
	_, ps.Snow = pf.snow.Covered()
}

// snowBright is the light in lux at which a probe is not under snow (a guess).
const snowBright = 2000

// heatNear is where the hours of heat begin to be watched closely, below the lowest limit by a degree.
const heatNear = 24000

// heat feeds the hours of root heat. Cool pots are passed over: they add nothing.
func (f *Fold) heat(now time.Time, i int, v int64) {
	pf := &f.pots[i]
	if v < heatNear && !pf.hot {
		return
	}
	pf.hot = v >= heatNear
	pf.heat.Take(now, int(f.st.Day), v)
	ps := &f.st.Pots[i]
	if pf.heat.Level() == indices.HeatAct {
		ps.HotAt, ps.HotPeak = now, pf.heat.Today().Peak
	}
}

// heatMean counts the days in a row whose mean was over 20 °C, the watch limit of growers.
func (ps *PotStanding) heatMean(mean int64) {
	if ps.HotDays++; mean <= 20000 {
		ps.HotDays = 0
	}
}

// yearFold keeps the last twelve months' mean air, to notice a garden whose hemisphere is the wrong one.
type yearFold struct {
	sum  [12]int64 // of daily means, m°C
	days [12]int64
	last [12]garden.Date
}

const (
	yearDays  = 21   // of the supposed summer, and of any other time, before anything is said
	coldYear  = 8000 // a summer colder than this on average is none, m°C (a guess)
	yearApart = 2000 // and colder than the other months by this
)

func (y *yearFold) take(d garden.Date, mean int64) {
	_, m, _ := d.Civil()
	k := m - 1
	if y.days[k] > 0 && d-y.last[k] > 100 {
		y.sum[k], y.days[k] = 0, 0
	}
	y.sum[k], y.days[k], y.last[k] = y.sum[k]+mean, y.days[k]+1, d
}

// upsideDown says that what should be summer by the garden's latitude is the cold time of the year.
func (y *yearFold) upsideDown(south bool) bool {
	var sum, days [2]int64
	for k := range y.sum {
		summer := k >= 5 && k <= 7
		if south {
			summer = k == 11 || k <= 1
		}
		s := 0
		if summer {
			s = 1
		}
		sum[s], days[s] = sum[s]+y.sum[k], days[s]+y.days[k]
	}
	if days[0] < yearDays || days[1] < yearDays {
		return false
	}
	summer, other := sum[1]/days[1], sum[0]/days[0]
	return summer < coldYear && summer < other-yearApart
}
