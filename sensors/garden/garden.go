package garden

import (
	"log/slog"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// A Garden is everything garden.toml says exists, decoded and checked. Slices keep the file's order.
type Garden struct {
	Site     Site
	Places   []Place
	Plants   []Plant
	Pots     []Pot
	Probes   []Probe
	Normals  *Normals    // nil until the keeper copies published monthly normals
	Feed     Feeding     // zero: growers' habit
	Rules    []table.Raw // one a rule, named by its kind; decoded by the rule
	Push     []table.Raw // one a way out, named by it; decoded by the way
	Services Services
	Sitter   Sitter
}

// Site is the place the garden is in.
type Site struct {
	ID         string  // safe alphabet; part of every topic
	Name       string  // for people
	Latitude   float64 // degrees, north positive; NaN when not given (then asked for, never guessed)
	Longitude  float64 // degrees, east positive; NaN when not given
	Altitude   float64 // metres above the sea
	Zone       *time.Location
	Every      time.Duration // between rounds, 1 to 60 min
	Clock      string        // "" (kernel or hardware clock must vouch) or "trust"
	Fahrenheit bool          // messages and page in °F and fl oz
}

// South reports whether the site is in the southern hemisphere; ok is false when the latitude is missing or within 10 degrees
// of the equator, where the question has no answer for these plants.
func (s Site) South() (south, ok bool) {
	if !(s.Latitude >= 10 || s.Latitude <= -10) {
		return false, false
	}
	return s.Latitude < 0, true
}

// A Place is somewhere pots stand.
type Place struct {
	ID     string
	Name   string
	Roof   bool   // keeps rain and the night sky off
	Shaded bool   // stands in the shade of the pole-facing wall: the reference for heat pockets
	Facing string // compass point, free text
	Line   int    // in garden.toml
}

// A Plant is one clone, whatever pot it stands in.
type Plant struct {
	ID        string
	Name      string
	Regime    string    // winter water regime: a name in Regimes, "" when the keeper has not said
	Earliness Earliness // when it rises
	Tender    Tender    // how cold its roots may get
	Hunger    string    // feed hunger: "modest", "usual", "hungry"
	Line      int
}

// Earliness is the class a plant rises in.
type Earliness uint8

// Earliness classes; the zero class is unknown and treated as middle with a wider guess.
const (
	UnknownEarliness Earliness = iota
	Early
	Middle
	LateRiser
)

// Tender is how much cold a plant's roots bear in a pot.
type Tender uint8

// Tenderness classes; growers' defaults put the warning at -5, -3 and +0.5 °C at the pot's core.
const (
	UnknownTender Tender = iota // by regime: dry-winter pots as Tenderish, others Hardy
	Hardy
	Tenderish
	NeverFreeze
)

// A Pot is one container.
type Pot struct {
	ID        string
	Plant     string // plant id
	Place     string // where the file says it stands, until a note moves it
	Regime    string // overrides the plant's
	Litres    units.Volume
	Clay      bool
	Mix       string
	Relatives []string  // pots this one speaks for (dry like it)
	Faster    []string  // pots that dry faster than it
	Like      string    // borrow this pot's marks
	Since     time.Time // zero: as long as the garden is known
	Line      int
}

// Measures is what a probe measures and where.
type Measures uint8

// What a probe may measure.
const (
	MeasuresNothing Measures = iota
	PotMoisture              // in a pot, raw counts, volts or per cent of drained-full
	PotTemperature           // in a pot
	AirTemperature           // at a place, plant height
	AirHumidity              // at a place
	Rain                     // at a place, depth
	Wind                     // at a place
	Light                    // at a place
	AirPressure              // anywhere
	Battery                  // a node's battery or supply
	Signal                   // a node's link quality
	ForecastMin              // a forecast of the coming night's minimum at a place
	PotWeight                // a balance under a pot
	Supply                   // the supply of an analogue probe
)

var measureNames = [...]string{MeasuresNothing: "", PotMoisture: "pot-moisture", PotTemperature: "pot-temperature", AirTemperature: "air-temperature",
	AirHumidity: "air-humidity", Rain: "rain", Wind: "wind", Light: "light", AirPressure: "air-pressure", Battery: "battery", Signal: "signal",
	ForecastMin: "forecast-min", PotWeight: "pot-weight", Supply: "supply"}

func (m Measures) String() string { return measureNames[m] }

// MeasureNames lists the words garden.toml may use for what a probe measures.
func MeasureNames() []string { return append([]string(nil), measureNames[1:]...) }

// UnmarshalText reads one of MeasureNames.
func (m *Measures) UnmarshalText(b []byte) error {
	i, err := word("measures", string(b), measureNames[1:])
	*m = Measures(i + 1)
	return err
}

// InPot reports whether the probe belongs to a pot rather than to a place.
func (m Measures) InPot() bool { return m == PotMoisture || m == PotTemperature || m == PotWeight }

// A Probe is one quantity from one sensor.
type Probe struct {
	ID       sensors.ProbeID
	Measures Measures
	Pot      string // for a pot probe
	Place    string // for an air probe
	Depth    string // free text
	Shielded bool
	Unit     units.Unit    // of what it delivers; None: the source says
	Marks    []Mark        // from the file; later ones come as notes
	Every    time.Duration // its own usual spacing when not every round; zero: every round
	Offset   []Offset      // corrections with dates; raw is kept
	Limits   *Limits       // nil: the defaults of its kind
	Source   table.Raw     // the driver's own table, Name is the driver; zero Name: none (readings come by import)
	Line     int
}

// An Offset is added to a probe's reading from a date on (an ice-bath correction). History is not rewritten.
type Offset struct {
	From time.Time
	Add  units.MilliCelsius
	Why  string
}

// Limits are a probe's own bounds of what can be true, in the probe's whole-number unit.
type Limits struct {
	Low, High int64
}

// Normals are twelve monthly means and year-to-year spreads of the site's air, January first, in °C.
type Normals struct {
	Mean, Spread [12]float64
}

// Services are the daemon's own doors: broker, page, journal.
type Services struct {
	Journal Journal
	Broker  Broker
	Page    Page
	Influx  table.Raw // zero Name: not forwarded
	Backup  Backup
	Log     Log
}

// Log says how log lines look.
type Log struct {
	JSON  bool
	Level slog.Level
	Most  int // of the same message from the same source a minute; 0: the default
}

// Journal says where the store lies.
type Journal struct {
	Path string // default: lathwatch.journal in the state directory
}

// Broker is the embedded broker's door, used only when no outside broker is configured.
type Broker struct {
	Listen       string // default 127.0.0.1:1883
	User         string
	PasswordFile string
	Off          bool
}

// Page is the web page's door.
type Page struct {
	Listen            string // default 127.0.0.1:8642
	PassphraseFile    string
	CertFile, KeyFile string
	Hosts             []string // names the page answers to, besides localhost and addresses
	OpenReading       bool     // reading needs no passphrase, writing does
	MetricsTokenFile  string   // a token for programs that read /metrics
	Off               bool
}

// Backup says where and how many copies of the journal are kept.
type Backup struct {
	Folder string // empty: beside the journal, and a weekly line says so
	Keep   int    // default 3
}
