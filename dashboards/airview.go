package dashboards

import (
	"time"

	"lathwatch/alerts"
)

// airView is a place's line of air.
type airView struct {
	ID       string
	Now      string // "1.3 °C, falling 0.4 °C an hour"
	Tonight  string // "−2.1 to 0.4 °C"
	How      string // how that was worked out
	Today    string // "so far today −0.4 to 5.2 °C"
	Offset   string
	Rain     string
	Humidity string
	Silent   string // "silent since 03:10"
	Frost    bool   // the coming night may freeze
}

// airFresh is how old an air reading may be and still be called now.
const airFresh = 2 * time.Hour

// air builds the line; nil when the place has no air probe.
func (b *bench) air(ps *alerts.PlaceStanding) *airView {
	has := false
	for i := range b.st.Probes {
		p := b.st.Probes[i].Probe
		has = has || p.Place == ps.Place.ID && !p.Measures.InPot()
	}
	if !has && ps.AirAt.IsZero() {
		return nil
	}
	v := &airView{ID: ps.Place.ID}
	if ps.AirAt.IsZero() {
		v.Silent = "no air reading yet"
		return v
	}
	if !ps.GapSince.IsZero() || b.st.At.Sub(ps.AirAt) > airFresh {
		v.Silent = "silent since " + b.when(ps.AirAt) + "; last " + b.deg(ps.Air)
	} else {
		b.airNow(v, ps)
	}
	b.airTonight(v, ps)
	return v
}

func (b *bench) airNow(v *airView, ps *alerts.PlaceStanding) {
	v.Now = b.deg(ps.Air)
	if t := b.trend(ps.Trend); t != "" {
		v.Now += ", " + t
	}
	v.Today = b.degs(alerts.Interval{Low: ps.DayMin.Celsius(), High: ps.DayMax.Celsius()})
	if !ps.HumidityAt.IsZero() && b.st.At.Sub(ps.HumidityAt) <= airFresh {
		v.Humidity = percent(int64(ps.Humidity))
	}
	if ps.RainKnown {
		v.Rain = number(float64(ps.Rain24)/1000, 1) + nbsp + "mm"
	}
}

func (b *bench) airTonight(v *airView, ps *alerts.PlaceStanding) {
	if ps.Expected.OK {
		v.Tonight, v.How = b.degs(ps.Expected), ps.ExpectedHow
		v.Frost = ps.Expected.Low < 0
	}
	if ps.Offset.OK && !ps.Place.Shaded {
		v.Offset = b.offset(ps.Offset)
	}
}

// offset compares a place's nights with the shaded reference.
func (b *bench) offset(i alerts.Interval) string {
	mean := (i.Low + i.High) / 2
	switch {
	case mean > 0.05:
		return b.step(mean) + " warmer than the shaded place"
	case mean < -0.05:
		return b.step(-mean) + " colder than the shaded place"
	}
	return "as at the shaded place"
}
