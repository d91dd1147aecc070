package garden

import (
	"time"

	"lathwatch/sensors/units"
)

// A Mark ties a moisture probe's raw reading to a known state of its own pot, from a time on.
type Mark struct {
	From  time.Time // valid from; zero: as long as the probe is known
	Which Which
	Raw   int64              // in the probe's whole-number unit (µV, counts, ‰)
	Share units.PerMilleFull // what the mark stands for: 1000 for drained-full; for driest-allowed the keeper's figure, or -1 for "the dry limit of its regime then"
}

// Which names a mark.
type Which uint8

// The two marks of a moisture probe, and the start of a new epoch (re-seated, repotted: earlier marks are void).
const (
	DrainedFull Which = iota + 1
	DriestAllowed
	NewEpoch
)

var whichNames = [...]string{DrainedFull: "drained-full", DriestAllowed: "driest-allowed", NewEpoch: "new-epoch"}

func (w Which) String() string { return whichNames[w] }

// MarshalText writes what UnmarshalText reads.
func (w Which) MarshalText() ([]byte, error) { return []byte(w.String()), nil }

// UnmarshalText reads "drained-full" or "driest-allowed" (and "new-epoch", which only the program writes).
func (w *Which) UnmarshalText(b []byte) error {
	i, err := word("mark", string(b), whichNames[1:])
	*w = Which(i + 1)
	return err
}

// Scale turns a raw moisture reading into a share of drained-full: two points and a straight line between and beyond.
type Scale struct {
	FullRaw, DryRaw int64
	DryShare        int64 // ‰ at DryRaw
	Guess           bool  // a mark is borrowed or assumed
}

// Of gives the share of drained-full in ‰, clamped to -200..1500 so that a wild raw value stays an integer worth printing.
func (s Scale) Of(raw int64) units.PerMilleFull {
	span := s.FullRaw - s.DryRaw
	if span == 0 {
		return 0
	}
	n := (raw-s.DryRaw)*(1000-s.DryShare)*2/span + 2*s.DryShare
	if n < 0 {
		n--
	} else {
		n++
	}
	return units.PerMilleFull(min(max(n/2, -200), 1500))
}
