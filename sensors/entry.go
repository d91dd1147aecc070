package sensors

import (
	"cmp"
	"iter"
	"time"
)

// An Entry is one line of the past: exactly one of its pointers is set.
type Entry struct {
	At     time.Time
	Round  *Round
	Note   *Note
	Late   *Late
	Garden *GardenText
}

// Late is a batch of readings that arrived after their time, from a logger with its own store or an import. Its entry's
// instant is when it arrived; each reading carries its own time.
type Late struct {
	ID       string
	Readings []LateReading
}

// A LateReading is a reading with its own time.
type LateReading struct {
	At time.Time
	Reading
}

// GardenText is the text of garden.toml that came into force at its entry's instant.
type GardenText struct {
	ID   string // a digest of the text
	Text string
}

// Entries is the past in order: by instant, then kind (garden, note, late, round), then id. An error ends it.
type Entries = iter.Seq2[Entry, error]

// Compare orders entries by instant, kind and id, so that the same past is always read in the same order. A garden or a note
// comes before a round of the same instant: the round is judged knowing it.
func Compare(a, b Entry) int {
	return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.rank(), b.rank()), cmp.Compare(a.id(), b.id()))
}

func (e Entry) rank() int {
	switch {
	case e.Garden != nil:
		return 0
	case e.Note != nil:
		return 1
	case e.Late != nil:
		return 2
	}
	return 3
}

func (e Entry) id() string {
	switch {
	case e.Garden != nil:
		return e.Garden.ID
	case e.Note != nil:
		return e.Note.ID
	case e.Late != nil:
		return e.Late.ID
	}
	return ""
}
