package review

import (
	"time"

	"lathwatch/sensors/garden"
)

// A Winter is what the walk over one season found. Dates are civil days of the site, 0 where a thing did not happen. It passes
// through JSON unchanged.
type Winter struct {
	Version    int // of the way it was worked out
	Season     int // the year in which the plants come up
	Site       string
	Zone       string
	South      bool
	Fahrenheit bool
	From       garden.Date // first and last day with a round
	Until      garden.Date
	Places     []Place // in the garden's order
	Pots       []Pot   // in the garden's order
	Nights     []Night
	Said       []Message
}

// Version is of the way a Winter is worked out; a kept one of another version is worked out anew.
const Version = 2

// Cal is the calendar the winter's days are cut by.
func (w *Winter) Cal() garden.Calendar {
	zone, err := time.LoadLocation(w.Zone)
	if err != nil {
		zone = time.UTC
	}
	return garden.Calendar{Zone: zone, South: w.South}
}

// A Place is what its air did.
type Place struct {
	ID, Name     string
	Roof, Shaded bool
	Days         []AirDay // days with a reading, in order
	FrostNights  int
	FirstFrost   garden.Date // first and last night under 0 °C, named by the day it began
	LastFrost    garden.Date
	Lowest       Extreme
	WarmSpell    garden.Date // first day of the first warm spell of the second half of the rest; see warmAfter
	WarmDays     int         // how long it lasted
	DegreeDays   [2]float64  // °C·d above 5 °C from the season's first day, at least and at most
	Observed     float64     // share of the walked span really observed
	SparedNights int         // under a roof: nights it stayed at 0 °C or over while an open place froze
	Damp         bool        // humidity is known here
	Mouldy       int         // runs of wet and warm hours long enough for grey mould on another plant
	Warmer       Spread      // its minima less the reference place's
}

// A Spread is the mean of a difference in °C and how far single nights lay from it (standard deviation).
type Spread struct {
	N          int
	Mean, Each float64
}

// An Extreme is a value and its day; At 0: none.
type Extreme struct {
	At garden.Date
	V  int64 // m°C
}

// Litres of water and their day; At 0: none.
type Litres struct {
	At garden.Date
	V  float64
}

// An AirDay is one civil day of air in m°C.
type AirDay struct {
	Date           garden.Date
	Min, Max, Mean int64
	Covered        int64 // seconds observed
}

// A Pot is what one pot went through and did.
type Pot struct {
	ID, Plant, Name   string
	Regime, Earliness string
	Place             string // where it stood last
	Litres            float64
	Clay              bool
	Mix               string
	Own               bool // temperatures are its own probe's, not the air's
	Days              []PotDay
	Moves             []Move
	Froze             Litres // most water that froze through, by how long the pot was held at 0 °C
	ColdStart         garden.Date
	EnoughOn          garden.Date // the account certainly said so
	PlentyOn          garden.Date
	Credit            [2]float64 // credit days at the nose, or at the end
	FreezeThaw        int
	FrozenDays        float64
	Coldest, Hottest  Extreme
	Over25            float64 // hours the core was over 25 °C
	DryDays           float64 // judged days of the rest under the dry limit of its regime
	DryGrowth         float64 // the same of its growth
	WetDays           float64 // judged days of the rest over the upper limit, where that fault exists
	JudgedDays        float64
	Waterings         []Watering
	Nose, Opening     garden.Date
	Flower, LeafDown  garden.Date
	Forcing           [2]float64 // °C·d from enough cold to the nose, or so far
	Dressed           garden.Date
	DressedG          float64    // grams of granules as noted; 0: not noted
	Released          [2]float64 // share of the granules' nitrogen at the end
	Feeds             []Feed
	Repotted, Gone    garden.Date
	Lost, Parent      string
	Shoots            int  // newest count of the season; 0: not counted
	Unknown           bool `json:",omitempty"` // no regime given
}

// A PotDay is one civil day of a pot.
type PotDay struct {
	Date             garden.Date
	Min, Max         int64 // m°C; valid when TempOK
	TempOK           bool
	WetLow, WetHigh  int64 // ‰ of drained-full; valid when WetOK
	WetOK            bool
	Frozen           bool // half of it or more
	Cold             [2]float64
	Early, Late      garden.Date // the nose was expected between these; Late 0: only the early edge was told
	How              string
	coldOK           bool
	frozenS, judgedS int64
	dryS, wetS       int64 // at rest
	thirstS          int64 // in growth
}

// A Move is a change of place.
type Move struct {
	At garden.Date
	To string
}

// A Watering is a noted watering with what the pot was like before it and after.
type Watering struct {
	At       time.Time
	ML       int64
	Before   int64 // ‰ of drained-full
	BeforeOK bool
	Frozen   bool
	DryDays  float64 // thawed days under the limit before it
	LowDays  int
	Low      int64
	Target   int64
	High     int64 // 0: no upper limit
	After    int64 // highest of the 36 h after it
	AfterOK  bool
	Judged   string // one of the Water words
}

// What a watering was, against the pot's need.
const (
	WaterNeeded   = "needed"
	WaterInTime   = "in time"
	WaterLate     = "late"
	WaterEarly    = "early"
	WaterNeedless = "not needed"
	WaterFrozen   = "onto a frozen pot"
	WaterUnknown  = "not known"
)

// A Feed is a noted liquid feed, in the keeper's words.
type Feed struct {
	At     time.Time
	Detail string
}

// A Night is noon to noon at one place: what was expected in the evening and what came.
type Night struct {
	Date     garden.Date // of the noon it began with
	Place    string
	Min      int64 // m°C
	Whole    bool  // watched from the evening to the morning
	Expected int64 // m°C, middle of what was expected at 21:00
	Error    int64 // half of its width
	How      string
	OK       bool // something firm was expected
	Opened   int  // pots with opened shoots that stood there
	Warned   bool // a frost message was sent that evening about this place
}

// A Message is what was said and what came of it.
type Message struct {
	At    time.Time
	Kind  string
	Rank  string
	Place string
	Pots  []string
	Text  string
	Came  string // what followed, in a phrase
	Good  Answer
	state []potState
}

// An Answer says whether a message was borne out.
type Answer string

// The answers.
const (
	BorneOut Answer = "yes"
	NotBorne Answer = "no"
	Open     Answer = "open" // nothing on record tells
)

// Brief is a winter without what only its own page needs: what is kept of it and compared with others.
func (w *Winter) Brief() *Winter {
	b := *w
	b.Nights, b.Said = nil, nil
	b.Pots = append([]Pot(nil), w.Pots...)
	for i := range b.Pots {
		b.Pots[i].Days = nil
	}
	return &b
}

func (w *Winter) place(id string) *Place {
	for i := range w.Places {
		if w.Places[i].ID == id {
			return &w.Places[i]
		}
	}
	return nil
}

// Pot finds a pot; nil when it was not there.
func (w *Winter) Pot(id string) *Pot {
	for i := range w.Pots {
		if w.Pots[i].ID == id {
			return &w.Pots[i]
		}
	}
	return nil
}

func (p *Pot) day(d garden.Date) *PotDay {
	if n := len(p.Days); n > 0 {
		if i := int(d - p.Days[0].Date); i >= 0 && i < n && p.Days[i].Date == d {
			return &p.Days[i]
		}
	}
	for i := range p.Days {
		if p.Days[i].Date == d {
			return &p.Days[i]
		}
	}
	return nil
}
