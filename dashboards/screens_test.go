package dashboards

import (
	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
	"time"

	"lathwatch/sensors"
)

type screenPath struct{ name, at string }

type screenGarden struct {
	name   string
	st     func() *alerts.Standing
	change func(*Config)
	paths  []screenPath
}

func screenGardens() []screenGarden {
	today := []screenPath{{"today", "/"}}
	return []screenGarden{
		{"ordinary", tansyBank, withPast, []screenPath{{"today", "/"}, {"winter", "/winter?beside=wall&with=2026&pot=B1"}, {"winter-all", "/winter?with=all"}, {"week", "/winter?from=2027-01-10&to=2027-01-20&beside=wall&pot=B2"},
			{"pot", "/pot/B1"}, {"plant", "/plant/P1"}, {"probe", "/probe/shelter-air"}, {"said", "/said"}, {"garden", "/garden"}}},
		{"empty", emptyBank, nil, append(today, screenPath{"winter", "/winter"}, screenPath{"said", "/said"})},
		{"many", manyBank, nil, today},
		{"silent", silentBank, nil, today},
		{"first", firstDay, noPast, append(today, screenPath{"winter", "/winter?pot=B1"}, screenPath{"pot", "/pot/B1"}, screenPath{"probe", "/probe/B1-m"})},
	}
}

func emptyBank() *alerts.Standing {
	g := &garden.Garden{Site: garden.Site{ID: "tansy", Name: "Lower Tansy Bank", Zone: tansyZone, Every: 5 * time.Minute},
		Places: []garden.Place{{ID: "shelter", Name: "Slatted shelter", Roof: true}}}
	st := &alerts.Standing{Garden: g, Cal: garden.Calendar{Zone: tansyZone}, Sentence: "Nothing to do"}
	finish(st)
	st.Places[0].AirAt = time.Time{}
	st.Places[0].Expected.OK, st.Places[0].Offset.OK = false, false
	return st
}

// manyBank holds 120 pots.
func manyBank() *alerts.Standing {
	g := &garden.Garden{Site: garden.Site{ID: "tansy", Name: "Lower Tansy Bank", Zone: tansyZone, Every: 5 * time.Minute},
		Places: []garden.Place{{ID: "shelter", Name: "Slatted shelter", Roof: true}, {ID: "wall", Name: "Shaded wall", Shaded: true}}}
	st := &alerts.Standing{Garden: g, Cal: garden.Calendar{Zone: tansyZone}}
	for i := range 70 {
		addPot(st, i, "shelter", "dry-winter")
	}
	for i := range 50 {
		addPot(st, 70+i, "wall", "wet-winter")
	}
	addProbe(st, garden.Probe{ID: "shelter-air", Measures: garden.AirTemperature, Place: "shelter"}, sensors.Reading{Raw: 3400, Step: units.Whole(units.Temperature)})
	addProbe(st, garden.Probe{ID: "wall-air", Measures: garden.AirTemperature, Place: "wall"}, sensors.Reading{Raw: 2500, Step: units.Whole(units.Temperature)})
	finish(st)
	st.Sentence = "Nothing to do. Next is B1, in 10 days"
	for i := range 5 {
		st.Pots[3*i].Frozen, st.Pots[3*i].FrozenSince = true, tansyNow.AddDate(0, 0, -3)
	}
	return st
}

func silentBank() *alerts.Standing {
	st := tansyBank()
	for i := range st.Probes {
		st.Probes[i].Silent, st.Probes[i].LastAt = true, tansyNow.Add(-9*time.Hour)
	}
	for i := range st.Places {
		st.Places[i].AirAt, st.Places[i].GapSince = tansyNow.Add(-9*time.Hour), tansyNow.Add(-9*time.Hour)
		st.Places[i].Expected.OK = false
	}
	for i := range st.Pots {
		st.Pots[i].WetnessAt, st.Pots[i].WetnessOK, st.Pots[i].Frozen = tansyNow.Add(-9*time.Hour), false, false
	}
	st.Alerts, st.Sentence = nil, "Nothing can be said: no probe has answered since 05:05"
	return st
}

// firstDay is a garden in its first hour: one round, no history.
func firstDay() *alerts.Standing {
	st := tansyBank()
	st.Alerts, st.Recent, st.Sentence = nil, nil, "Nothing to do"
	for i := range st.Probes {
		st.Probes[i].LastAt, st.Probes[i].Last, st.Probes[i].Quality, st.Probes[i].Silent = time.Time{}, sensors.Reading{}, 0, false
	}
	for i := range st.Places {
		st.Places[i] = alerts.PlaceStanding{Place: st.Places[i].Place}
	}
	for i := range st.Pots {
		p := &st.Pots[i]
		st.Pots[i] = alerts.PotStanding{Pot: p.Pot, Plant: p.Plant, Place: p.Place, Regime: p.Regime}
	}
	return st
}

// noPast gives pages a source of readings that has none yet.
func noPast(c *Config) {
	we := tansyWeather()
	we.until = time.Unix(0, 0)
	c.Curves, c.Messages = we, nil
}
