package sensors

import (
	"strings"
	"time"
)

// A Note is what the keeper did or saw, at its own time, possibly back-dated.
type Note struct {
	ID      string        // made from its time, subject and content unless given; the same note twice is one note
	At      time.Time     // when it happened, UTC
	Made    time.Time     // when it was written down; zero means then
	About   time.Duration // uncertainty either side of At; zero means exact
	Subject string        // a pot, plant or place id, or "all:<regime>"
	What    What          // one of the words below
	Detail  string        // amount, place, count ... as the word wants it
}

// Poured reports whether the note says that water was given, by the keeper or as a sitter's tick ("done", "watered 400 mL"), and
// the amount as written, "" where none is.
func (n *Note) Poured() (amount string, ok bool) {
	if n.What == Watered {
		return n.Detail, true
	}
	rest, ok := strings.CutPrefix(n.Detail, string(Watered))
	return strings.TrimSpace(rest), ok && n.What == Done
}

// What is the kind of a note.
type What string

// The words a note may use.
const (
	Watered  What = "watered" // mL
	Fed      What = "fed"
	Dressed  What = "dressed"
	Moved    What = "moved" // place
	Nose     What = "nose"
	Opening  What = "opening"
	Open     What = "open"
	Bud      What = "bud"
	Flower   What = "flower"
	LeafDown What = "leaf-down"
	Repotted What = "repotted"
	Divided  What = "divided" // ids
	Shoots   What = "shoots"  // n
	Lost     What = "lost"    // cause
	Marks    What = "mark"    // which, raw
	Weighed  What = "weighed" // g
	Feel     What = "feel"    // heavy, right, light
	Regime   What = "regime"  // regime
	ColdDone What = "cold-done"
	Away     What = "away" // until
	Back     What = "back"
	Done     What = "done"
	Seen     What = "seen"
	Snoozed  What = "snoozed"
	Undo     What = "undo"
	Remark   What = "remark" // free words, judged by nothing
)

// Whats lists every word a note may use, in the order a person meets them through the year.
var Whats = []What{Watered, Fed, Dressed, Moved, Nose, Opening, Open, Bud, Flower, LeafDown, Repotted, Divided, Shoots, Lost,
	Marks, Weighed, Feel, Regime, ColdDone, Away, Back, Done, Seen, Snoozed, Undo, Remark}

// Known reports whether w is a word a note may use.
func (w What) Known() bool {
	for _, k := range Whats {
		if k == w {
			return true
		}
	}
	return false
}
