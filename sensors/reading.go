package sensors

import (
	"time"

	"lathwatch/sensors/units"
)

// ProbeID names a probe for ever, whatever wire or address it answers on. It uses the safe alphabet a-z, 0-9 and hyphen.
type ProbeID string

// Quality is what the door thought of a reading. Frozen is not a quality: it is a conclusion about a pot and a span.
type Quality uint8

// The qualities stored beside a raw integer. A missing value is a Fault and has no integer.
const (
	Valid   Quality = iota
	Suspect         // kept and shown, never summed, never alerted on
)

func (q Quality) String() string {
	if q == Suspect {
		return "suspect"
	}
	return "valid"
}

// A Reading is what one probe said in a round: raw counts and what one count is. Its time is its round's.
type Reading struct {
	Probe   ProbeID
	Raw     int64
	Step    units.Step
	Quality Quality
}

// Whole gives the reading in the whole-number unit of its step (m°C, ‰, µV ...).
func (r Reading) Whole() int64 { return r.Step.Of(r.Raw) }

// Unit is the unit Whole speaks.
func (r Reading) Unit() units.Unit { return r.Step.Unit }

// FaultKind says how a probe failed. A probe that failed is data.
type FaultKind uint8

// The ways a probe fails.
const (
	Silent      FaultKind = iota + 1 // no answer within its time, or gone
	Garbled                          // an answer that fails its check or cannot be read
	Implausible                      // a well-formed answer that cannot be true (85 °C at power-on, 127.94 °C, all noughts)
	Stuck                            // the same answer while its neighbours move
	OutOfPot                         // a pot probe in open air
)

var faultNames = [...]string{Silent: "silent", Garbled: "garbled", Implausible: "implausible", Stuck: "stuck", OutOfPot: "out of pot"}

func (k FaultKind) String() string {
	if int(k) < len(faultNames) && k > 0 {
		return faultNames[k]
	}
	return "no fault"
}

// A Fault is a probe's failure in a round and, in a short phrase, why ("power-on value", "checksum", "no answer in 2 s").
type Fault struct {
	Probe ProbeID
	Kind  FaultKind
	Why   string
}

// A Round is one visit to every probe at one appointed minute: what answered and what did not. A probe in neither list was
// not asked.
type Round struct {
	At       time.Time // the appointed instant, UTC, whole seconds
	Readings []Reading // in order of probe id
	Faults   []Fault   // in order of probe id
}
