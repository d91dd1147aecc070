package alerts

import (
	"time"

	"lathwatch/sensors/units"
)

// A Rule is one fault the garden may have: when it exists, how long it must stand, when it may be spoken, and in which words.
// Rules are values on the shelf alerts/rules; the one state machine over them is the Judge.
type Rule struct {
	Kind     string
	Rank     Rank
	Hold     time.Duration // a ripe finding must stand this long before the alert is raised
	Linger   time.Duration // an alert stands this long after its last finding
	From     Clock         // earliest time of day its message may be sent; zero: 07:00
	Until    Clock         // latest; zero: 21:30
	Gather   time.Duration // a message waits this long after its first alert was raised, so that others of the place come along
	Together bool          // one message for all pots of a place
	MutedBy  []string      // kinds that, raised for the same pot, are the cause and make this one silent
	Sitter   bool          // while the keeper is away its message goes to the sitter; others of rank Week then wait for the return
	Errand   bool          // its message is the sitter's, whoever is at home
	Outside  bool          // it judges the daemon itself, which the record of rounds cannot replay
	// Over says that what an alert asked for is done, so that it need not linger; nil: nothing on record can tell.
	Over func(st *Standing, f Finding) bool
	// Find reports what is wrong at one instant. It must not keep anything between calls.
	Find func(st *Standing, found func(Finding))
	// Say puts a group of findings into one message.
	Say func(g Group) string
}

// A Clock is a civil time of day in minutes after midnight.
type Clock int

// At is a Clock at hours and minutes.
func At(hour, minute int) Clock { return Clock(hour*60 + minute) }

// Quiet hours: no message leaves between these.
const (
	QuietFrom  = Clock(21*60 + 30)
	QuietUntil = Clock(7 * 60)
)

// ClockOf gives the civil time of day of an instant.
func ClockOf(t time.Time, zone *time.Location) Clock {
	l := t.In(zone)
	return Clock(l.Hour()*60 + l.Minute())
}

// A Finding is a fault a rule sees at one instant.
type Finding struct {
	Subject string   // a pot or place id, or "garden"
	Place   string   // place id, "" where none
	Pots    []string // pots concerned
	Ripe    float64  // 1 or more: it counts; less: it is on the way and only joins others' message (from 2/3 on)
	Level   int      // a higher level than last told is worse and may be told again
	// Pause is how long after the last message of its kind about its place a new one keeps still.
	Pause time.Duration
	Facts Facts
}

// Facts are the figures a message may need.
type Facts struct {
	Amount units.Volume
	Wet    units.PerMilleFull
	Temp   units.MilliCelsius
	Limit  units.MilliCelsius
	From   time.Time
	Until  time.Time
	Low    float64
	High   float64
	Count  int
	Poured time.Time // last noted watering that does not show; zero: none
	Guess  bool
	Clay   bool
	Word   string
	Other  string // place id: where the pots may stand instead of where they are on record
	Names  []string
}

// A Group is what one message is about.
type Group struct {
	St    *Standing
	Kind  string
	Place string
	Items []Finding // in the garden's order
	Worse bool

	Before   []string  // pots the last message of this kind about this place named
	BeforeAt time.Time // and when it was sent; zero: there was none

	raised func(kind, pot string) bool
}

// Raised reports whether an alert of another kind stands for a pot.
func (g Group) Raised(kind, pot string) bool { return g.raised != nil && g.raised(kind, pot) }

// Pots lists the group's pots in order.
func (g Group) Pots() []string {
	var ids []string
	for _, it := range g.Items {
		ids = append(ids, it.Pots...)
	}
	return ids
}
