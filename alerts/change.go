package alerts

import "time"

// Rank says how soon a message is wanted.
type Rank uint8

// Ranks, most urgent first.
const (
	Tonight Rank = iota + 1 // act before dark; out by 21:00
	Week                    // in waking hours, once until it worsens
	Digest                  // a line in the weekly digest, never sent alone
)

var rankNames = [...]string{Tonight: "tonight", Week: "week", Digest: "digest"}

func (r Rank) String() string { return rankNames[r] }

// State is what happened to an alert.
type State uint8

// The states of an alert's change.
const (
	Raised  State = iota + 1 // it stands now
	Worse                    // it stands and got worse
	Cleared                  // it is over
	Said                     // a message that belongs to no standing alert (digest, gap, sitter's sheet)
)

var stateNames = [...]string{Raised: "raised", Worse: "worse", Cleared: "cleared", Said: "said"}

func (s State) String() string { return stateNames[s] }

// Whom a message is for when it is not the keeper alone.
const (
	ToSitter = "sitter"
	ToDigest = "digest"
)

// A Change is one line the Judge wrote. A change with Text is a message to be sent; one without only changes what is on record.
type Change struct {
	Key     string // made of instant, rule, subject and state: the same past always gives the same key
	At      time.Time
	Kind    string // rule kind, no question mark: "water-light"
	Rank    Rank
	State   State
	Subject string    // of the alert: a pot, place or "garden"; topics use it
	Place   string    // place id, "" where none
	Pots    []string  // pots concerned, in the garden's order
	Text    string    // the message, one sentence or a few lines; "" when nothing is sent
	To      string    // "" the keeper, ToSitter, or ToDigest for a line that goes out within the digest
	Saw     string    // what the rule saw of each pot, for the log
	Until   time.Time // after it the message is stale and is not sent
}

// An Alert is a fault that stands.
type Alert struct {
	Kind    string
	Subject string
	Place   string
	Pots    []string
	Rank    Rank
	Key     string // of the change that raised it
	Since   time.Time
	SaidAt  time.Time // when it was last told; zero: not yet
	Text    string    // as last told or as it would be told
	Seen    bool
	Later   time.Time // snoozed until
}
