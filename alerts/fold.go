package alerts

import (
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// gapLimit is how long the whole garden may go unread before the stretch is called a gap: old values stop counting for
// anything and a message says so on return.
const gapLimit = 2 * time.Hour

// A Fold works out a Standing from rounds and notes, one after the other. It is told the time by what it is fed and never asks
// for it. The same past always folds to the same Standing.
type Fold struct {
	st     Standing
	slot   map[sensors.ProbeID]int
	probes []probeFold
	places []placeFold
	pots   []potFold
	begun  bool
	taught []Taught          // of earlier seasons
	fresh  []Taught          // of this walk, not yet asked for
	closed int               // newest season closed for learning
	last   time.Time         // last round with an answer in it
	born   []*garden.Pot     // by division, not in the file yet
	heirs  map[string]string // divided pot to the one that has its probes

	clk           nightClock
	hour, quarter int64 // of the last slow steps
	sunDay        garden.Date
	sunUp         time.Time
	sunDown       time.Time
	wind, light   newest
	year          yearFold
}

// probeFold says where a probe's readings go.
type probeFold struct {
	place, pot int // indices, -1 for none
	layer      int // index into the pot's layers
	trace      indices.Trace
	marks      []garden.Mark // from the file and from notes, by From
	noted      []garden.Mark // those from notes
	bent       bool          // the keeper's hands corrected one
}

type placeFold struct {
	trace    indices.Trace
	days     indices.Days
	sum      indices.Sum // base 5 °C since the season's first day
	lastDay  indices.Day
	hasDay   bool
	trend    [4]trendPoint // on the hour
	lows     indices.NightLows
	forecast int64 // newest forecast of the coming night's minimum, m°C
	fcAt     time.Time
	night    nightFold
	offset   indices.PlaceOffset // of its minima from the reference place's
	pockets  indices.HeatPockets
	slugs    indices.SlugNights
	rain     [25]rainHour
}

type trendPoint struct {
	at time.Time
	v  int64
}

type rainHour struct {
	hour int64
	sum  int64
}

type potFold struct {
	place    int // index by the ledger, -1 unknown
	temp     int // probe slot of the pot's own thermometer, -1 none
	layers   []layerFold
	trace    indices.Trace
	days     indices.Days
	lastDay  indices.Day
	hasDay   bool
	cold     indices.ColdAccount
	forcing  indices.Sum
	enough   [2]bool // the low and the high end of the account have passed "enough"
	coldDone bool
	season   int
	dry      indices.DryClock
	wet      indices.WetClock
	clocks   time.Time // the dry and wet clocks count nothing before this
	leap     leapFold
	steps    indices.WetSteps
	out      indices.ProbeOut
	down     *indices.DryDown
	leafDown bool
	regime   string             // by note, "" as the file says
	rough    indices.FrozenGate // for a pot without a moisture probe
	cycles   int                // of the gate at the season's start
	hour     int64              // of the last slow step
	moved    movedFold
	fall     [25]hourWet
	weights  []garden.Mark // weights that stand for a moisture, g
	snow     indices.SnowCover
	heat     indices.HeatHours
	hot      bool // the heat's clock is running
	granules indices.Granules
	warmth   warmth
	nose     noseSeen
}

type layerFold struct {
	probe int
	gate  indices.FrozenGate
	share int64 // newest, ‰ of drained-full
	at    time.Time
	first time.Time // first reading with a scale
	known bool      // a scale exists
	guess bool
}

// NewFold starts with an empty garden.
func NewFold() *Fold { return &Fold{slot: map[sensors.ProbeID]int{}, heirs: map[string]string{}} }

// Garden takes the garden in force from at on. What is known of probes, places and pots that stay is kept by id; a pot's
// place and regime are the file's until a note changes them.
func (f *Fold) Garden(at time.Time, g *garden.Garden) {
	old := *f
	south, _ := g.Site.South()
	f.st.Garden, f.st.Cal = g, garden.Calendar{Zone: g.Site.Zone, South: south}
	f.st.At = at
	f.st.Climate = northern(g.Normals, south)
	f.clk.next, f.sunUp = time.Time{}, time.Time{} // another zone or position may be in force
	f.layPlaces(&old)
	f.layPots(&old)
	f.layProbes(&old)
}

func (f *Fold) layPlaces(old *Fold) {
	g := f.st.Garden
	f.places, f.st.Places = make([]placeFold, len(g.Places)), make([]PlaceStanding, len(g.Places))
	for i := range g.Places {
		f.places[i].days = indices.Days{Cal: f.st.Cal, Base: 5000}
		if j := old.placeIndex(g.Places[i].ID); j >= 0 {
			f.places[i], f.st.Places[i] = old.places[j], old.st.Places[j]
			f.places[i].days.Cal = f.st.Cal
		}
		f.st.Places[i].Place = &g.Places[i]
	}
}

func (f *Fold) layPots(old *Fold) {
	g := f.st.Garden
	all := f.potsOf(g)
	f.pots, f.st.Pots = make([]potFold, len(all)), make([]PotStanding, len(all))
	for i, p := range all {
		pf, ps := &f.pots[i], &f.st.Pots[i]
		pf.days = indices.Days{Cal: f.st.Cal, Base: 5000}
		pf.cold.Bounds = indices.DefaultCold
		ps.Place = p.Place
		if j := old.potIndex(p.ID); j >= 0 {
			*pf, *ps = old.pots[j], old.st.Pots[j]
			pf.days.Cal = f.st.Cal
			if was := old.st.Pots[j].Pot.Place; was != p.Place && ps.Gone.IsZero() { // the file moved it
				ps.Place = p.Place
			}
		} else {
			pf.down = indices.NewDryDown(indices.PotKind{Clay: p.Clay, Litres: p.Litres.Litres()})
		}
		pf.temp, pf.place = -1, f.placeIndex(ps.Place)
		ps.Pot, ps.Plant = p, g.Plant(p.Plant)
		ps.Regime = f.regimeOf(i)
	}
}

// potsOf lists the file's pots and then those born by division that the file does not have yet.
func (f *Fold) potsOf(g *garden.Garden) []*garden.Pot {
	var all []*garden.Pot
	for i := range g.Pots {
		all = append(all, &g.Pots[i])
	}
	for _, p := range f.born {
		if g.Pot(p.ID) == nil {
			all = append(all, p)
		}
	}
	return all
}

func (f *Fold) layProbes(old *Fold) {
	g := f.st.Garden
	f.probes, f.st.Probes = make([]probeFold, len(g.Probes)), make([]ProbeStanding, len(g.Probes))
	f.slot = make(map[sensors.ProbeID]int, len(g.Probes))
	kept := make([][]layerFold, len(f.pots))
	for i := range g.Probes {
		p := &g.Probes[i]
		pf := &f.probes[i]
		if j, ok := old.slot[p.ID]; ok {
			*pf, f.st.Probes[i] = old.probes[j], old.st.Probes[j]
		}
		f.st.Probes[i].Probe = p
		f.slot[p.ID] = i
		f.mergeMarks(i)
		pf.place, pf.pot = f.placeIndex(p.Place), f.potIndex(f.heirOf(p.Pot))
		if pf.pot < 0 {
			continue
		}
		switch p.Measures {
		case garden.PotTemperature:
			f.pots[pf.pot].temp = i
		case garden.PotMoisture, garden.PotWeight:
			if p.Measures == garden.PotWeight && f.hasMoisture(p.Pot) {
				continue // the probe in the pot goes before the balance under it
			}
			pf.layer = len(kept[pf.pot])
			kept[pf.pot] = append(kept[pf.pot], old.layerOf(p.ID, i))
		}
	}
	for i := range f.pots {
		f.pots[i].layers = kept[i]
	}
}

// layerOf gives what was known of a moisture probe, or a new layer.
func (f *Fold) layerOf(id sensors.ProbeID, slot int) layerFold {
	if j, ok := f.slot[id]; ok && f.probes[j].pot >= 0 {
		for _, l := range f.pots[f.probes[j].pot].layers {
			if l.probe == j {
				l.probe = slot
				return l
			}
		}
	}
	return layerFold{probe: slot}
}

func (f *Fold) placeIndex(id string) int {
	for i := range f.st.Places {
		if f.st.Places[i].Place != nil && f.st.Places[i].Place.ID == id {
			return i
		}
	}
	return -1
}

func (f *Fold) potIndex(id string) int {
	for i := range f.st.Pots {
		if f.st.Pots[i].Pot != nil && f.st.Pots[i].Pot.ID == id {
			return i
		}
	}
	return -1
}

func (f *Fold) hasMoisture(pot string) bool {
	for i := range f.st.Garden.Probes {
		if p := &f.st.Garden.Probes[i]; p.Pot == pot && p.Measures == garden.PotMoisture {
			return true
		}
	}
	return false
}

func (f *Fold) regimeOf(pot int) *garden.Regime { return garden.RegimeNamed(f.regimeName(pot)) }

func (f *Fold) regimeName(pot int) string {
	if r := f.pots[pot].regime; r != "" {
		return r
	}
	p := f.st.Pots[pot].Pot
	if p.Regime != "" {
		return p.Regime
	}
	if plant := f.st.Garden.Plant(p.Plant); plant != nil {
		return plant.Regime
	}
	return ""
}

// Live gives the Standing in place, for rules: it changes with the next entry.
func (f *Fold) Live() *Standing { return &f.st }

// Snapshot gives a copy nobody will change.
func (f *Fold) Snapshot() *Standing {
	s := f.st
	s.Places = append([]PlaceStanding(nil), f.st.Places...)
	s.Pots = append([]PotStanding(nil), f.st.Pots...)
	s.Probes = append([]ProbeStanding(nil), f.st.Probes...)
	for i := range s.Probes {
		s.Probes[i].Marks = append([]garden.Mark(nil), f.probes[i].marks...)
	}
	for i := range s.Pots {
		s.Pots[i].History = append([]DayPoint(nil), s.Pots[i].History...)
	}
	return &s
}
