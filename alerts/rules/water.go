package rules

import (
	"math"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// waterSettings: a keeper of growing pots waters by habit every day or two; the messages serve the habit and do not replace it, so
// one of them names all that fall due soon and then keeps still for some days unless a pot is dry in earnest. Guesses.
type waterSettings struct {
	PotAbove units.MilliCelsius `toml:"pot-above" help:"in rest, the pot must be warmer than this"`
	Ahead    units.Span         `toml:"ahead" help:"in growth, name what falls due within this with the rest"`
	Pause    units.Span         `toml:"pause" help:"in growth, between messages about a place"`
	Earnest  units.Span         `toml:"earnest" help:"the same for pots dry in earnest, under half their limit"`
}

func init() {
	add(Entry{Kind: "water", Doc: "a growing pot under its limit, or a wet-winter pot dry for some thawed days, wants water (growers' habit, figures are guesses)",
		Example: "[rule.water]\npot-above = \"2 °C\"\nahead = \"6 d\"\npause = \"14 d\"\nearnest = \"5 d\"\n", Build: buildWater})
}

func buildWater(raw table.Raw) (alerts.Rule, error) {
	const d = units.Span(24 * time.Hour)
	set, err := settings(raw, waterSettings{PotAbove: 2000, Ahead: 6 * d, Pause: 14 * d, Earnest: 5 * d})
	return alerts.Rule{Kind: "water", Rank: alerts.Week, Hold: time.Hour, Linger: 12 * time.Hour, From: alerts.At(7, 0), Until: alerts.At(11, 0), Together: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			findDry(st, found, set.PotAbove, false)
			findThirsty(st, found, set)
		},
		Say: alerts.SayWater}, err
}

// almost is how ripe a pot is that falls due soon: named with others, never alone.
const almost = 0.8

// pauseSlack lets a message come at the same hour of the morning as the last.
const pauseSlack = 6 * time.Hour

// findThirsty finds growing pots under their limit, and those that will be there soon. A pot at half its limit is dry in earnest.
func findThirsty(st *alerts.Standing, found func(alerts.Finding), set waterSettings) {
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.Phase != garden.Growth || p.Regime == nil || !p.WetnessOK || !fresh(st.At, p.WetnessAt) {
			continue
		}
		cell := p.Regime.Cell(p.Phase)
		if cell.LowDays > 0 || cell.Light || !cell.Speak[garden.TooDry] {
			continue
		}
		ripe, level, pause := 1.0, 1, set.Pause
		switch left := math.Log(float64(p.Wetness) / float64(cell.Low)); {
		case p.Wetness >= cell.Low && (p.Falling <= 0 || left/p.Falling > set.Ahead.Duration().Hours()/24):
			continue
		case p.Wetness >= cell.Low:
			ripe = almost
		case 2*p.Wetness < cell.Low:
			level, pause = 2, set.Earnest
		}
		found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: ripe, Level: level, Pause: pause.Duration() - pauseSlack,
			Facts: alerts.Facts{Amount: doseAt(p, cell, min(p.Wetness, cell.Low)), Wet: p.Wetness, Low: float64(cell.Low), Count: habit(p, cell), Guess: true, Clay: p.Pot.Clay}})
	}
}

// hotter is how much faster than now a pot may dry in the next weeks: leaves grow and summer comes (a guess).
const hotter = 1.5

// growingWeather is the pot's daily mean under which a watering lasts too long to be a habit, m°C (a guess).
const growingWeather = 12_000

// habit is how many days a full watering lasts if the pot dries somewhat faster than now; 0: not known.
func habit(p *alerts.PotStanding, cell *garden.Cell) int {
	if p.Falling <= 0 || p.Phase != garden.Growth || p.LastMean < growingWeather {
		return 0
	}
	return int(max(1, math.Floor(math.Log(float64(cell.Target)/float64(cell.Low))/(hotter*p.Falling))))
}
