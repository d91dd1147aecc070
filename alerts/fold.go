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
	st                   Standing
	slot                 map[sensors.ProbeID]int
	probes               []probeFold
	places               []placeFold
	pots                 []potFold
	begun                bool
	taught               []Taught          // of earlier seasons
	fresh                []Taught          // of this walk, not yet asked for
	closed               int               // newest season closed for learning
	last                 time.Time         // last round with an answer in it that was walked
	unwalked, unwalkedAt time.Time         // newest reading before rounds that are only what loggers kept for themselves, and the first of those; zero: they are not
	born                 []*garden.Pot     // by division, not in the file yet
	heirs                map[string]string // divided pot to the one that has its probes

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
	answers    lastAnswers
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
	mould    indices.MouldRun
	mouldy   bool // the present run is long enough
	rain     [weekHours + 1]rainHour
}

type trendPoint struct {
	at time.Time
	v  int64
}

// weekHours is how far back rain is summed.
const weekHours = 7 * 24

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
	plateau  indices.FrostPlateau
	heat     indices.HeatHours
	hot      bool // the heat's clock is running
	granules indices.Granules
	warmth   warmth
	nose     noseSeen
	forced   forced
	years    []indices.SeasonRecord // its own, for the fit
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
		s.Probes[i].Answered, s.Probes[i].Failed = f.probes[i].answers.day(s.At.Unix() / 3600)
	}
	for i := range s.Pots {
		s.Pots[i].History = append([]DayPoint(nil), s.Pots[i].History...)
	}
	return &s
}
