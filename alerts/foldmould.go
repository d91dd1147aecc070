package alerts

import (
	"time"

	"lathwatch/sensors/indices"
)

// A MouldWeather is the wet and warm weather at a place that grey mould wants. It is shown and never told: the hours are those of another
// plant (Plant Disease 80, 1996, 160), and no threshold for these is known.
type MouldWeather struct {
	Known  bool
	Hours  float64   // wet hours over 12 °C of the present run; a run ends with four dry hours
	Need   float64   // hours that would be enough at their mean temperature
	Spells int       // runs of this season that were long enough
	Last   time.Time // when the newest of them became so; zero: none
}

// mould takes a step of a place's damp air. A leaf is taken to be as warm as the air.
func (f *Fold) mould(now time.Time, pi int) {
	ps, pl := &f.st.Places[pi], &f.places[pi]
	rh, damp := f.dampAt(now, pi)
	ok := damp && !ps.AirAt.IsZero() && now.Sub(ps.AirAt) <= shelterFresh
	dew := int64(0)
	if ok {
		d, fine := indices.DewPoint(ps.Air.Celsius(), float64(rh)/10)
		dew, ok = int64(d*1000), fine
	}
	m := &ps.Mould
	m.Known = m.Known || ok
	pl.mould.Take(now, int64(ps.Air), rh, int64(ps.Air), dew, ok)
	wet, mean, enough := pl.mould.Run()
	m.Hours, m.Need = wet.Hours(), indices.MouldHours(mean)
	if enough && !pl.mouldy {
		m.Spells, m.Last = m.Spells+1, now
	}
	pl.mouldy = enough
}

// plateau times how long a pot with its own thermometer is held at 0 °C while it freezes, which tells how much water froze.
func (f *Fold) plateau(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if !ps.TempOwn || pf.place < 0 || now.Sub(ps.TempAt) > shelterFresh {
		return
	}
	air := &f.st.Places[pf.place]
	if air.AirAt.IsZero() || now.Sub(air.AirAt) > shelterFresh {
		return
	}
	pf.plateau.Litres = ps.Pot.Litres.Litres()
	if pf.plateau.Take(now, int64(ps.Temp), int64(air.Air)) {
		ps.FrozeLitres, ps.FrozeAt, _ = pf.plateau.Water()
	}
}
