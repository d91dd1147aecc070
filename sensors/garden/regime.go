package garden

import "lathwatch/sensors/units"

// Phase is where a plant stands in its year as far as water goes.
type Phase uint8

// The phases.
const (
	Rest Phase = iota
	Growth
)

func (p Phase) String() string { return [...]string{"rest", "growth"}[p] }

// PotFault is a fault a rule may speak about a pot's water.
type PotFault uint8

// The faults a regime may allow or silence.
const (
	TooDry PotFault = iota
	TooWet
	Leak
	DrainCheck
	numFaults
)

// A Cell is a regime's row for one phase: the moisture band, how long a breach must stand, and which faults may be spoken.
// Shares are of drained-full; times count only while the pot is thawed.
type Cell struct {
	Low      units.PerMilleFull // below it the pot is dry
	LowDays  int                // thawed days below Low before a word is said
	Target   units.PerMilleFull // what a watering should bring it to
	High     units.PerMilleFull // above it the pot is too wet
	HighDays int
	Light    bool // the water called for is a light watering (water-light), not a full one (water)
	Speak    [numFaults]bool
}

// A Regime is a way of watering through the year: a table of phase by band by which faults exist. The figures are settings:
// no published moisture figure for these plants is known, so every one of them is a guess.
type Regime struct {
	Name   string
	Rest   Cell
	Growth Cell
	Heat   bool // hours over 25 °C are welcome in rest (summer bakers)
	// RestFrom and RestUntil are the default edges of rest as season days (day 0 = 1 September, shifted by 182 days in the
	// south), used where no note and no cold says otherwise. CuedByCold: rest may begin with the cold account.
	RestFrom, RestUntil int
	CuedByCold          bool
}

var growth = Cell{Low: 550, LowDays: 0, Target: 950, High: 980, HighDays: 5, Speak: [numFaults]bool{TooDry: true, DrainCheck: true, Leak: false}}

// Regimes lists the water regimes a pot may be given, by name.
var Regimes = []Regime{
	{Name: "dry-winter", CuedByCold: true, RestFrom: 61, RestUntil: 273, Growth: growth,
		Rest: Cell{Low: 200, LowDays: 3, Target: 350, High: 650, HighDays: 7, Light: true, Speak: [numFaults]bool{TooDry: true, TooWet: true, Leak: true}}},
	{Name: "wet-winter", CuedByCold: true, RestFrom: 61, RestUntil: 273, Growth: growth,
		Rest: Cell{Low: 500, LowDays: 5, Target: 950, Speak: [numFaults]bool{TooDry: true}}},
	{Name: "dry-summer", Heat: true, RestFrom: 242, RestUntil: 365 + 14, Growth: growth,
		Rest: Cell{Low: 0, Target: 300, High: 650, HighDays: 7, Light: true, Speak: [numFaults]bool{TooWet: true, Leak: true}}},
	{Name: "bone-dry", CuedByCold: true, RestFrom: 61, RestUntil: 212, Growth: growth,
		Rest: Cell{Low: 0, Target: 200, High: 400, HighDays: 7, Light: true, Speak: [numFaults]bool{TooWet: true, Leak: true}}},
}

// RegimeNamed finds a regime; nil when there is none of that name.
func RegimeNamed(name string) *Regime {
	return find(Regimes, func(r *Regime) bool { return r.Name == name })
}

// Cell gives the regime's row for a phase.
func (r *Regime) Cell(p Phase) *Cell {
	if p == Growth {
		return &r.Growth
	}
	return &r.Rest
}
