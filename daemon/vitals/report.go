package vitals

import "time"

// A Report is how a daemon fares at one instant. Its lists are in the order of the roster or of garden.toml.
type Report struct {
	At       time.Time // the daemon's own clock
	Version  string
	Began    time.Time
	Sentence string
	Trouble  string // what only the keeper can mend, "" when nothing
	Workers  []Worker
	Rounds   Rounds
	Buses    []Bus
	Probes   []Probe
	Journal  Journal
	Ways     []Way
	Forward  *Forward // nil: nothing is forwarded
	Clock    Clock
	Alerts   []Kind  // every kind there is
	Starts   []Start // the newest, newest first
	Ends     []Kind  // starts on record by how their run ended, every end there is
}

// A Worker is one goroutine of the roster.
type Worker struct {
	Name   string
	Needed bool          // it is watched
	Quiet  time.Duration // since its last sign of life
	Limit  time.Duration
	Ill    string // why it is not well, "" when it is
}

// Rounds counts since the start.
type Rounds struct {
	Every    time.Duration
	Walked   uint64
	Held     uint64 // of them, held for want of a trusted clock
	Valid    uint64 // readings
	Suspect  uint64
	Faults   []Kind        // by kind, every kind there is
	Since    time.Duration // real time since the newest round; since the start while there was none
	Waiting  int           // rounds that wait in memory because the journal cannot be written
	Newest   time.Time     // instant of the newest round on record
	Degraded bool          // the journal would not take the newest round
}

// A Kind is a number of something.
type Kind struct {
	Name string
	N    uint64
}

// A Bus is one bus since the start.
type Bus struct {
	Name     string
	Chips    int
	Down     int           // chips that gave nothing at the last visit
	Asked    uint64        // probes, once each a visit
	Failed   uint64        // of them without an answer that could be read
	Listens  bool          // its probes speak when they like: silence is no failure of a wire
	Answered time.Duration // real time since anything on it answered; below 0: never since the start
	Hung     time.Duration // for how long a chip has not come back; 0: none
}

// Share is the part of asks that failed, 0 to 1.
func (b Bus) Share() float64 {
	if b.Asked == 0 {
		return 0
	}
	return float64(b.Failed) / float64(b.Asked)
}

// A Probe is the health of one probe.
type Probe struct {
	ID       string
	Measures string
	Value    string    // as printed, "" when it has never answered
	At       time.Time // zero: never
	Suspect  bool
	Silent   bool
	Fault    string // kind and why, "" for none
	Battery  Battery
}

// A Battery is what a battery's probe said last.
type Battery struct {
	Known bool
	Volts bool    // else a share of full, 0 to 1
	Value float64 // V or a share
}

// Journal is the state of the store.
type Journal struct {
	Path           string
	Size, Log      int64 // bytes of the file and of its write-ahead log
	Free, Whole    int64 // bytes of the file system it lies on
	Unread         int   // parts of the past that could not be read since the start
	ReadOnly       bool
	Held           int // rounds that wait for a clock
	LastBackup     time.Time
	BackupsHere    bool
	Mended         string // what had to be done at the start, "" when nothing
	Unknown        string // why the journal could not be looked at, "" when it could
	Commits        uint64 // since the start
	CommitsMean    time.Duration
	CommitsLongest time.Duration
}

// A Way is a way out for messages.
type Way struct {
	Name    string
	Waiting int    // changes in its outbox
	Memory  int    // of them, those in memory because the journal cannot be written
	Trouble string // "" when there is none
}

// Forward is how forwarding to a time-series server stands.
type Forward struct {
	Through  time.Time // all rounds up to here are at the server; zero: unknown
	Lag      time.Duration
	Sent     uint64
	TooOld   uint64
	Aside    uint64 // lines on record that the server will never take
	Failures uint64 // attempts in a row that failed
	Trouble  string
}

// Clock is what the clock is worth.
type Clock struct {
	Trusted bool
	Why     string
}

// A Start is one start of the daemon and how that run ended.
type Start struct {
	At      time.Time
	Version string
	How     string // "" while it runs
	Ending  string // in words
}
