package drivers

import (
	"cmp"
	"context"
	"io"
	"log/slog"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// A Driver is one entry of the shelf.
type Driver struct {
	Name    string // the table's name in garden.toml: [probe.w1]
	Doc     string // one sentence for the keeper
	Example string // a whole [[probe]] block that passes; the exam, the reference and `probes` print it
	// Parse decodes a probe's own table strictly and says what the probe wants. Errors carry block and line.
	Parse func(p garden.Probe) (Wish, error)
	// Look lists what answers on this board without disturbing it; nil when the driver cannot know (a topic, a serial line).
	Look func(env Env) []Found
}

// A Found is one thing that answers, for `probes` and for the list of the unassigned.
type Found struct {
	Bus, Chip string // as in a Wish
	Channel   string
	Says      string // what it is and reads, for a person
	Block     string // a [[probe]] block to paste, its binding still missing
}

// A Wish is a parsed table: which bus the probe is read on, what it claims, and how to open it.
type Wish struct {
	Driver string // filled in by ParseProbe
	Probe  sensors.ProbeID
	Bus    string // the worker that reads it: "w1", "i2c-1", "serial /dev/x", "mqtt", "files"
	// Chip is the one thing it claims: "i2c-1 0x44", "w1 28-...". Probes of one chip share one Source; two different
	// drivers or settings on one chip are refused, both named.
	Chip string
	// Channel is the part of the chip this probe reads ("temperature", "AIN0", a topic's path). Two probes on one channel of
	// one chip are refused; empty channels are not compared.
	Channel string
	// Apart says that a read which does not come back says nothing about the other chips of the bus (kernel files): they are
	// still asked. Where it is false a hung chip hangs its bus.
	Apart bool
	// Waits says that the source only listens: its silence is the other end's, and no reason to open a fresh one.
	Waits bool
	Topic string        // the MQTT topic it needs somebody to listen on; empty: none
	Every time.Duration // the probe's own usual spacing; zero: every round
	// Settings must be equal for all probes that share a chip (resolution, range); printed when they differ.
	Settings string
	// Open opens the chip for all probes that share it, in order of id.
	Open func(env Env, wishes []Wish) (Source, error)
	// Check looks, without disturbing anything, for what can never work on this board (a voltage without a scale); nil: nothing
	// to look at. A sensor that is not there yet is no error.
	Check func(env Env) error
	// Of is the driver's own decoded table, for Open.
	Of any
}

// A Source is one opened chip or path.
type Source interface {
	// Poll asks once and returns a reading or a fault for every probe it serves, and neither where nothing was due (a topic
	// that speaks every quarter of an hour, the first count of a rain gauge). The deadline is in ctx; a source that
	// cannot be cancelled may overrun it: poll then abandons it and does not ask again until it has come back.
	Poll(ctx context.Context) ([]sensors.Reading, []sensors.Fault)
	Close() error
}

// A Latecomer is a Source that also delivers readings with their own, earlier time.
type Latecomer interface {
	Late() []sensors.LateReading
}

// Env is what the world lends a driver.
type Env struct {
	Root   string                            // "" or "/" is this board; a fake tree in tests
	I2C    func(number int) (i2c.Bus, error) // lent by sensors/bus
	Serial func(path string, m SerialMode) (Line, error)
	Topics Topics // MQTT-in; nil when there is no broker
	Log    *slog.Logger
	// Notice tells the keeper something about wiring or siting, at most once a bus and day; may be nil.
	Notice func(bus, text string)
	// Mended takes a notice back, in the same words, once it holds no longer; may be nil.
	Mended func(bus, text string)
	// Every is the time between rounds; zero: 5 minutes. A probe on a topic is silent after three times that or its own.
	Every time.Duration
	// Simulated makes the round of an instant in the demo's simulated garden; nil everywhere else.
	Simulated func(t time.Time) sensors.Round
	// After is the newest instant on record of a probe, so that a logger's own store is not read twice; nil: nothing on record.
	After func(sensors.ProbeID) time.Time

	read func(path string, limit int64) ([]byte, error) // nil: the file itself
}

// SerialMode is how a line is opened.
type SerialMode struct {
	Baud     int
	DataBits int
	Parity   byte // 'N', 'E', 'O'
	StopBits int
	Timeout  time.Duration // of one read
}

// A Line is an open serial line. Read returns 0, nil on time-out.
type Line interface {
	io.ReadWriteCloser
	Break(d time.Duration) error
	Flush() error // drop what was received and not read
}

// Topics hands out what arrives on subscribed topics.
type Topics interface {
	// Subscribe asks for a filter; handle must only enqueue. Several may share a filter. It is re-subscribed after every
	// reconnect.
	Subscribe(filter string, handle func(Arrival)) error
}

// An Arrival is one MQTT message.
type Arrival struct {
	Topic    string
	Payload  []byte
	Retained bool
	At       time.Time
}

var shelf []Driver

func add(d Driver) { shelf = append(shelf, d) }

// All lists the drivers, sorted by name.
func All() []Driver {
	all := slices.Clone(shelf)
	slices.SortFunc(all, func(a, b Driver) int { return cmp.Compare(a.Name, b.Name) })
	return all
}

// Named finds a driver.
func Named(name string) (Driver, bool) {
	for _, d := range shelf {
		if d.Name == name {
			return d, true
		}
	}
	return Driver{}, false
}
