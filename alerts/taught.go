package alerts

import (
	"math"
	"slices"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// TaughtVersion is the version of the formulae behind a Taught; rows of another version are learnt anew.
const TaughtVersion = 1

// A Taught is what one season taught that the next ones use: a start reads these rows instead of walking years. It is taken 60
// days before the next season begins, where a start's walk begins.
type Taught struct {
	Season int
	Noses  []NoseYear   `json:",omitempty"`
	Drying []DryingYear `json:",omitempty"`
	Nights []NightsYear `json:",omitempty"`
	Ratios []RatioYear  `json:",omitempty"`
}

// NoseYear is the forcing, °C·d base 5 °C after enough cold, at which a pot's nose was noted.
type NoseYear struct {
	Pot, Plant string
	Forcing    float64
	Day        int       // season day
	From       int       // season day of the first of Daily
	Daily      []float64 // forcing of each day from then on, °C·d
}

// DryingYear is a pot's own drying rate a day of usual air, with its relative spread.
type DryingYear struct {
	Pot            string
	PerDay, Spread float64
}

// NightsYear is what a place's nights taught so far: those of this season and before.
type NightsYear struct {
	Place   string
	Records []indices.FrostRecord `json:",omitempty"`
	Offset  indices.OffsetSums
}

// TeachingLead is how long before a season's first day the season before is closed for learning.
const TeachingLead = 60

// noseSeen keeps the forcing at which a pot's nose was first noted this season.
type noseSeen struct {
	forcing float64
	day     int
	ok      bool
}

// forced keeps a season's forcing day by day from the day it began to count.
type forced struct {
	from  int
	daily []float64
}

func (d *forced) take(day int, above int64) {
	if len(d.daily) == 0 {
		d.from = day
	}
	d.daily = append(d.daily, math.Round(float64(above)/864_000)/100)
}

// record lays a year out by season day, nothing before the rest was long enough.
func (n NoseYear) record() indices.SeasonRecord {
	return indices.SeasonRecord{Means: append(make([]float64, n.From), n.Daily...), Seen: n.Day}
}

// fit sets a plant's one fitted parameter against its own years, each left out in turn, with the mean date beside it.
func (f *Fold) fit(i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	ps.Fit = nil
	asItIs := func(v float64) float64 { return v }
	if fit, err := indices.FitForcing(pf.years, asItIs, 0); err == nil {
		ps.Fit = &fit
	}
}

// sawNose notes the forcing of a first nose, opening or the like.
func (f *Fold) sawNose(i int, n *sensors.Note) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if pf.nose.ok || !ps.Forcing.OK || ps.Stage < Nose || ps.Stage == LeafDown {
		return
	}
	pf.nose = noseSeen{ps.Forcing.Mid(), f.st.Cal.SeasonDay(f.st.Cal.DateOf(n.At)), true}
}

// closeSeason takes down what the season taught on its teaching day and takes it up as a start from there would, so that a walk
// of many years and a start in the last one know the same.
func (f *Fold) closeSeason(d garden.Date) {
	season := f.st.Cal.Season(d)
	due := d >= f.st.Cal.SeasonStart(season+1)-TeachingLead
	if !f.begun {
		f.closed = season
		if !due {
			f.closed--
		}
		return
	}
	if !due || f.closed >= season {
		return
	}
	f.closed = season
	t := f.teachings(season)
	f.Teach(t)
	f.fresh = append(f.fresh, t)
}

func (f *Fold) teachings(season int) Taught {
	t := Taught{Season: season, Ratios: f.ratios()}
	for i := range f.pots {
		pf, ps := &f.pots[i], &f.st.Pots[i]
		if pf.nose.ok {
			t.Noses = append(t.Noses, NoseYear{ps.Pot.ID, ps.Pot.Plant, pf.nose.forcing, pf.nose.day, pf.forced.from, pf.forced.daily})
		}
		if rate, spread, own := pf.down.Rate(); own {
			t.Drying = append(t.Drying, DryingYear{ps.Pot.ID, rate, spread})
		}
	}
	for i := range f.places {
		t.Nights = append(t.Nights, NightsYear{f.st.Places[i].Place.ID, f.places[i].night.fit.Records(), f.places[i].offset.Sums()})
	}
	return t
}

// Teach takes up what an earlier season taught. Seasons are taught in order.
func (f *Fold) Teach(t Taught) {
	f.taught = append(f.taught, t)
	f.takeUp(t)
}

func (f *Fold) takeUp(t Taught) {
	for i := range f.pots {
		pf, ps := &f.pots[i], &f.st.Pots[i]
		for _, n := range t.Noses {
			if n.Pot == ps.Pot.ID {
				ps.Own = append(ps.Own, n.Forcing)
				if len(n.Daily) > 0 {
					pf.years = append(pf.years, n.record())
					f.fit(i)
				}
			}
		}
		pf.nose, pf.forced = noseSeen{}, forced{}
		for _, y := range t.Ratios {
			if y.Pot == ps.Pot.ID {
				ps.Ratios = append(slices.DeleteFunc(slices.Clone(ps.Ratios), func(o RatioYear) bool { return o.Beside == y.Beside }), y)
			}
		}
		for _, y := range t.Drying {
			if y.Pot == ps.Pot.ID {
				pf.down = newDryDown(ps)
				pf.down.Remember(y.PerDay, y.Spread)
			}
		}
	}
	for i := range f.places {
		for _, n := range t.Nights {
			if n.Place == f.st.Places[i].Place.ID {
				f.places[i].remember(n)
			}
		}
	}
}

func newDryDown(ps *PotStanding) *indices.DryDown {
	return indices.NewDryDown(indices.PotKind{Clay: ps.Pot.Clay, Litres: ps.Pot.Litres.Litres(), Growth: ps.Phase == garden.Growth})
}

// remember learns a place's nights anew from what is on record of them.
func (p *placeFold) remember(n NightsYear) {
	p.offset = indices.PlaceOffset{}
	p.offset.Remember(n.Offset)
	p.night.fit, p.night.falls = indices.FrostFit{}, [3]falls{}
	for _, r := range n.Records {
		p.night.fit.Add(r.Evening, r.Sky, r.Low)
		for h, e := range r.Evening {
			if e.OK {
				p.night.falls[h].add(int64((e.T - r.Low) * 1000))
			}
		}
	}
}

// Fresh gives what seasons taught since it was last asked, to be written down.
func (f *Fold) Fresh() []Taught {
	t := f.fresh
	f.fresh = nil
	return t
}

// TeachingDay is the instant from which a start walks the season that now lies in.
func TeachingDay(cal garden.Calendar, now time.Time) time.Time {
	d := cal.DateOf(now)
	return cal.Start(cal.SeasonStart(cal.Season(d)) - TeachingLead)
}
