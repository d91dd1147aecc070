package alerts

import (
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/units"
)

// A Trouble is something about the daemon itself that only the keeper can mend.
type Trouble struct {
	Kind string // "clock", "storage", "broker"
	Text string
}

// An Interval is a figure known only between two bounds; OK is false when nothing is known.
type Interval struct {
	Low, High float64
	OK        bool
}

// Cold is the cold account's answer in three words.
type Cold uint8

// The answers; growers' working bounds are 60 and 90 credit days.
const (
	ColdUnknown Cold = iota
	NotYet
	Enough
	Plenty
)

func (c Cold) String() string { return [...]string{"unknown", "not-yet", "enough", "plenty"}[c] }

// Stage is how far a plant has risen.
type Stage uint8

// The stages.
const (
	Closed Stage = iota
	Nose
	Opening
	Open
	Bud
	Flower
	LeafDown
)

func (s Stage) String() string {
	return [...]string{"closed", "nose", "opening", "open", "bud", "flower", "leaf-down"}[s]
}

// A Standing is all that is known at one instant, folded from everything before it. Rules, pages and state topics read the
// same one. It is a snapshot: nobody changes it after it is handed out.
type Standing struct {
	At         time.Time
	Day        garden.Date // civil day of At
	Season     int
	SeasonFrom time.Time // its first instant
	Garden     *garden.Garden
	Cal        garden.Calendar
	Places     []PlaceStanding // in the garden's order
	Pots       []PotStanding   // in the garden's order
	Probes     []ProbeStanding // in the garden's order
	Alerts     []Alert         // standing, by rank, kind, subject
	Recent     []Change        // the newest messages, newest first, at most 50
	Sentence   string          // what the keeper should do, in one line
	GapSince   time.Time       // start of the last gap while its shadow lasts; zero: none
	GapUntil   time.Time
	GapKept    []string // probes that kept readings of that stretch themselves and delivered them

	AnyRisen   bool            // some plant shows above the grit and has not died back
	Climate    *garden.Normals // the garden's monthly figures laid on the northern calendar; nil: none
	UpsideDown bool            // what should be summer by the latitude is the cold time of the year
	Reach      string          // "" when a way out reaches beyond this board; else a sentence saying messages reach nobody yet
	Trouble    string          // what only the keeper can mend (clock, storage, broker); "" when nothing
	Troubles   []Trouble       // the same one by one, for rules
	Remarks    []string        // for the weekly digest: true, and no task of today
	Away       Away
}

// A PlaceStanding is what is known of a place.
type PlaceStanding struct {
	Place          *garden.Place
	Air            units.MilliCelsius // newest valid air reading
	AirAt          time.Time          // zero: none
	Trend          Interval           // °C an hour over the last three hours
	Humidity       units.PerMilleRH
	HumidityAt     time.Time
	DayMin, DayMax units.MilliCelsius // so far today; valid when AirAt is not zero
	Expected       Interval           // coming night's minimum, °C
	ExpectedHow    string             // one of the How words: "forecast", "own nights", "first-season guess" ...
	ExpectedFirm   bool               // from this evening's reading or a forecast: good enough to speak on
	Offset         Interval           // minimum of this place minus the reference place's, last night watched at both, °C
	Heat           Heat               // what stands behind it being hotter than the shaded reference
	HeatKnown      bool               // the question is asked here: it has air and is not the shaded reference itself
	HeatPeak       float64            // by how much at most, °C
	HeatAt         time.Time          // when that was last so; zero: never
	OpenedUp       int                // how often the keeper noted here that something was done (glass taken away)
	SlugHours      float64            // hours slugs like, this night so far
	SlugNight      bool               // there were enough of them
	Mould          MouldWeather
	DegreeDays     Interval         // base 5 °C since the season's first day
	Observed       float64          // share of that span really observed, 0..1
	Yardsticks     Yardsticks       // of the season so far
	Rain24         units.MicroMetre // last 24 h
	RainWeek       units.MicroMetre // last seven days
	RainKnown      bool
	FrostAhead     bool      // frost is to be reckoned with on one of the next two nights
	FrostKnown     bool      // whether that question has an answer
	FrostHow       string    // "forecast" or "last three minima, a guess"
	GapSince       time.Time // air silent since; zero: answering
}

// A PotStanding is what is known of a pot.
type PotStanding struct {
	Pot          *garden.Pot
	Plant        *garden.Plant  // nil when the plant is not in the garden
	Place        string         // by the ledger
	Regime       *garden.Regime // nil: the keeper has not said
	Phase        garden.Phase
	Stage        Stage
	StageAt      time.Time
	Temp         units.MilliCelsius // newest valid pot (or, lacking a probe, air) temperature
	TempAt       time.Time          // zero: none
	TempOwn      bool               // it is the pot's own probe
	Frozen       bool
	FrozenSince  time.Time
	Snow         bool
	FrozeLitres  float64            // water that froze when it last froze through, by how long it was held at 0 °C (experimental)
	FrozeAt      time.Time          // and when; zero: not seen this season
	Wetness      units.PerMilleFull // of the wettest layer, last time it could be judged
	WetnessAt    time.Time          // zero: never
	WetnessOK    bool               // it may be judged now
	Rough        bool               // scaled by a borrowed or assumed mark
	NeedsMarks   bool               // there is a moisture probe but no scale
	DrySince     time.Time          // thawed dry clock running since; zero: not dry
	DryDays      float64            // thawed days below the limit
	WetDays      float64            // thawed days above the upper limit
	DaysLeft     Interval           // days until the dry limit
	DryPerDay    float64            // share of its water that goes in a day of usual air, as a logarithm; 0: never measured long enough
	Ratios       []RatioYear        // how it dries beside those that speak for it, as earlier seasons learnt it
	ColdCredit   Interval           // credit days this season
	Cold         Cold
	ColdStart    time.Time           // account running since; zero: not begun
	Forcing      Interval            // °C·d base 5 since "enough"
	LastMean     units.MilliCelsius  // mean of the last closed day observed
	WarmDays     int                 // closed days in a row with a mean of 7.5 °C or more, up to the last
	FreezeThaw   int                 // full cycles this season
	FreezeThaw30 int                 // in the last 30 days
	Break        [2]garden.Date      // window in which the nose is expected; zero: no dates
	BreakHow     string              // "own years", "class guess", ""
	Foretold     [2]garden.Date      // the window last given before the nose was noted, this season
	NoseAt       time.Time           // first noted this season; zero: not yet
	Own          []float64           // forcing at the nose in its own earlier years, °C·d
	Fit          *indices.ForcingFit // of its own years, from two on; nil before
	EdgeDays     Interval            // days until the early edge of the window, also where there are no dates
	Overdue      bool                // past the late end of its window with no nose noted
	Dressed      time.Time           // granules given this season; zero: not noted
	DressedG     float64             // grams of them as noted; 0: not noted
	FeedReleased Interval            // share of granule N released, 0..1
	Feeds        []Given             // liquid feeds noted this season, oldest first
	OpenedAt     time.Time           // first noted opening this season; zero: not yet
	FlowerAt     time.Time           // first noted flower this season; zero: not yet
	HotDays      int                 // closed days in a row with a mean over 20 °C
	HotAt        time.Time           // root heat last called for doing something; zero: never
	HotPeak      int64               // peak of that day so far, m°C
	Repotted     time.Time           // last noted repotting or division
	CheckProbe   time.Time           // no thaw rise since; zero: fine
	Watered      time.Time           // last noted watering
	Fed          time.Time
	Moved        time.Time
	Step         indices.WetStep // newest rise of 8 points or more, its cause in the light of the notes so far
	StepOK       bool
	WetHeld      bool       // fed within two days, or leapt up and not stirred since: not called wet
	Leapt        bool       // the newest rise came from one reading to the next
	ProbeOut     time.Time  // its probe hangs in open air since; zero: it does not
	Contact      time.Time  // noted watering that hardly raised the reading; zero: none
	Falling      float64    // share of the water left that goes in a day, as a logarithm, over the last day; 0: unknown
	Elsewhere    string     // place whose air its nights follow instead of its own place's; "": none
	Gone         time.Time  // divided up or lost; zero: it is here
	Parent       string     // pot it was divided from
	Shoots       int        // newest count; 0: not counted
	Verdict      string     // one phrase: "nothing to do", "water lightly", "frozen", ...
	History      []DayPoint // last days, oldest first, at most 60
}

// A Given is one liquid feed as the keeper noted it.
type Given struct {
	At     time.Time
	Detail string
}

// A DayPoint is one civil day of a pot, for small curves.
type DayPoint struct {
	Day      garden.Date
	Wet      units.PerMilleFull
	WetOK    bool
	Wetted   bool // water came on this day
	Min, Max units.MilliCelsius
	TempOK   bool
}

// A ProbeStanding is the health of a probe.
type ProbeStanding struct {
	Probe      *garden.Probe
	Last       sensors.Reading
	LastAt     time.Time // newest valid or suspect reading; zero: never
	Quality    sensors.Quality
	Fault      sensors.FaultKind // newest fault since LastAt; zero: none
	FaultWhy   string
	FaultSince time.Time
	Answered   int             // readings of the last day; of a snapshot only
	Failed     int             // and faults
	Spacing    time.Duration   // usual spacing
	Silent     bool            // over three times its usual spacing
	Mild       sensors.Reading // of a battery: newest one taken in air above freezing
	MildAt     time.Time
	Marks      []garden.Mark // of a moisture probe, by their time
}
