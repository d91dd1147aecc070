package curve

import (
	"fmt"
	"strings"
)

// Kind says what a curve shows; its look follows from it everywhere.
type Kind uint8

// The kinds of curve.
const (
	AirRibbon Kind = iota // from night low to day high
	AirLow                // the nights' lows
	AirHigh               // the days' highs
	AirTrue               // the readings themselves, where the span is short
	BesideLow             // another place's lows
	PastLow               // lows of the winters before
	WithLow               // lows of the one winter laid over
	SumBand               // what a sum may be, where readings are missing
	SumLine               // degree-days
	ColdLine              // cold account
	ForceLine             // forcing
	WithLine              // any sum of the winter laid over
	WetLine               // water in a pot
	LimitLine             // a limit
	ClassBand             // a class's range of forcing
	numKinds
)

// ink names a colour of the page.
type ink uint8

const (
	inkInk ink = iota
	inkQuiet
	inkFrost
	inkWarm
	inkLeaf
	inkSoil
	inkClay
)

var inkNames = [...]string{"ink", "quiet", "frost", "warm", "leaf", "soil", "clay"}

// picture colours: those of the page by day.
var inkValues = [...]string{"#0f1a15", "#47564e", "#0a5aa0", "#a85200", "#16714a", "#4d3a2c", "#a8481f"}

// A look is how a kind is drawn. Kinds that may meet in one chart differ in width or dash as well as in colour.
type look struct {
	name   string  // class is "k-" and the name
	colour ink     // of the line or the area
	width  float64 // of the line, CSS pixels; zero: an area
	dash   string
	fill   float64 // opacity of an area
}

// looks is the one table: the page's style sheet, the print rules and the picture are all made from it.
var looks = [numKinds]look{
	AirRibbon: {name: "ribbon", colour: inkFrost, fill: 0.16},
	AirLow:    {name: "low", colour: inkFrost, width: 2.4},
	AirHigh:   {name: "high", colour: inkWarm, width: 1},
	AirTrue:   {name: "true", colour: inkInk, width: 1.6},
	BesideLow: {name: "beside", colour: inkLeaf, width: 1.8, dash: "9 3"},
	PastLow:   {name: "past", colour: inkQuiet, width: 0.7},
	WithLow:   {name: "with", colour: inkInk, width: 1.6, dash: "4 3"},
	SumBand:   {name: "band", colour: inkQuiet, fill: 0.25},
	SumLine:   {name: "sum", colour: inkWarm, width: 2.2},
	ColdLine:  {name: "cold", colour: inkFrost, width: 2.2},
	ForceLine: {name: "force", colour: inkLeaf, width: 2.2},
	WithLine:  {name: "withsum", colour: inkInk, width: 1.4, dash: "4 3"},
	WetLine:   {name: "wet", colour: inkSoil, width: 2.4},
	LimitLine: {name: "limit", colour: inkClay, width: 1.2, dash: "2 3"},
	ClassBand: {name: "class", colour: inkLeaf, fill: 0.12},
}

// Class is the kind's class in the drawing.
func (k Kind) Class() string { return "k-" + looks[k].name }

// rule writes the look with colours named by a function.
func (l look) rule(b *strings.Builder, colour func(ink) string) {
	if l.width == 0 {
		fmt.Fprintf(b, ".k-%s{fill:%s;fill-opacity:%g;stroke:none}\n", l.name, colour(l.colour), l.fill)
		return
	}
	fmt.Fprintf(b, ".k-%s{fill:none;stroke:%s;stroke-width:%g", l.name, colour(l.colour), l.width)
	if l.dash != "" {
		fmt.Fprintf(b, ";stroke-dasharray:%s", l.dash)
	}
	b.WriteString("}\n")
}

const shared = ".k{vector-effect:non-scaling-stroke;stroke-linejoin:round;stroke-linecap:round}\n"

// PageStyle gives the style sheet's rules for every kind, on screen (the page's own colours, light and dark) and in print (ink on
// paper, areas as pale tints that are printed although backgrounds are not).
func PageStyle() string {
	var b strings.Builder
	b.WriteString(shared)
	for _, l := range looks {
		l.rule(&b, func(i ink) string { return "var(--" + inkNames[i] + ")" })
	}
	b.WriteString("@media print{\n")
	for _, l := range looks {
		l.rule(&b, func(i ink) string { return inkValues[i] })
	}
	b.WriteString("}\n")
	return b.String()
}

// pictureStyle gives a picture its own colours.
func pictureStyle() string {
	var b strings.Builder
	b.WriteString(shared)
	for _, l := range looks {
		l.rule(&b, func(i ink) string { return inkValues[i] })
	}
	return b.String()
}

// Swatch is a short piece of a kind's line or area for a key.
func Swatch(k Kind) string {
	shape := `<path class="k ` + k.Class() + `" d="M1 6h26"/>`
	if looks[k].width == 0 {
		shape = `<path class="k ` + k.Class() + `" d="M1 1h26v10h-26z"/>`
	}
	return `<svg class="swatch" width="28" height="12" aria-hidden="true" focusable="false">` + shape + `</svg>`
}

// SpellSwatch is a piece of the ground of a kind of spell.
func SpellSwatch(k SpellKind) string {
	class := [...]string{Freezing: "freezing", Warm: "warm"}[k]
	return `<svg class="swatch" width="28" height="12" aria-hidden="true" focusable="false"><rect class="` + class + `" width="28" height="12"/></svg>`
}
