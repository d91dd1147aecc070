package model

import (
	"math"
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// grid is the model's own step. Rounds may be asked for at any times; what happens between does not depend on them.
const grid = 5 * time.Minute

// A Model is a simulated garden. It is not safe for use by several goroutines at once.
type Model struct {
	garden *garden.Garden
	cal    garden.Calendar
	sky    *climate
	noise  noise
	at     time.Time // on the grid, all before it is done
	now    Sky
	snow   float64 // mm of water lying in the open
	places []place
	pots   []potState
	probes []probe
	plan   plan
	day    garden.Date
	saw    []sight // what could be seen for the first time, not yet told
}

type place struct {
	roof, shaded bool
	air          float64
	rain         float64 // mm since the place's gauge was last read
}

type potState struct {
	pot
	plant
	place  int
	sum, n float64 // of the civil day, for the plant's account
	iced   int     // grid steps frozen through in a row
	harmed bool    // its moisture probe cracked in the ice
}

// A sight is something a keeper walking past could note.
type sight struct {
	at   time.Time
	pot  int
	what sensors.What
}

// New makes the garden's places, pots and plants and everything its probes will say from start on. Probes with the simulated
// driver answer; when there is none, all probes do.
func New(g *garden.Garden, seed uint64, start time.Time) *Model {
	m := &Model{garden: g, sky: newClimate(g.Site, seed), noise: noise(seed), at: start.UTC().Truncate(grid)}
	m.cal = m.sky.cal
	m.day = m.cal.DateOf(m.at)
	m.now = m.sky.sky(m.at)
	for _, p := range g.Places {
		m.places = append(m.places, place{roof: p.Roof, shaded: p.Shaded})
	}
	m.airs()
	for i := range g.Pots {
		p := &g.Pots[i]
		s := potState{place: m.placeIndex(p.Place)}
		var e garden.Earliness
		if plant := g.Plant(p.Plant); plant != nil {
			e = plant.Earliness
		}
		s.plant = newPlant(e, m.noise, int64(i), m.cal.SeasonDay(m.day))
		s.pot = newPot(p, m.airAt(s.place), 0.7+0.2*m.noise.even(character, 3000+int64(i)))
		m.pots = append(m.pots, s)
	}
	m.sense()
	m.plan = newPlan(m)
	return m
}

func (m *Model) placeIndex(id string) int {
	for i := range m.garden.Places {
		if m.garden.Places[i].ID == id {
			return i
		}
	}
	return -1
}

func (m *Model) potIndex(id string) int {
	for i := range m.garden.Pots {
		if m.garden.Pots[i].ID == id {
			return i
		}
	}
	return -1
}

func (m *Model) airAt(place int) float64 {
	if place < 0 {
		return m.now.Air
	}
	return m.places[place].air
}

// airs gives each place its own air: under an open sky clear still nights are colder, behind glass or without the wall's shade
// bright days are warmer.
func (m *Model) airs() {
	still := (1 - m.now.Cloud) * math.Exp(-m.now.Wind/2.5)
	for i := range m.places {
		p := &m.places[i]
		p.air = m.now.Air
		switch {
		case m.now.Night && p.roof:
			p.air -= 0.5 * still
		case m.now.Night:
			p.air -= 2.9 * still
		case !p.shaded:
			p.air += 1.1 * m.now.Sun / 600
		}
	}
}

// holds is how much water a mix holds when drained, m³ per m³: working values between those growers use.
func holds(mix string) float64 {
	switch {
	case strings.Contains(mix, "perlite"):
		return 0.31
	case strings.Contains(mix, "loam"):
		return 0.39
	}
	return 0.34
}

// Step lives on to t and makes the round of that instant. t must not be before an earlier one. A round with neither readings
// nor faults is an instant at which the board was without power: there is nothing to keep of it.
func (m *Model) Step(t time.Time) sensors.Round {
	m.live(t)
	return m.round(t)
}

func (m *Model) live(t time.Time) {
	for !m.at.Add(grid).After(t) {
		m.at = m.at.Add(grid)
		m.now = m.sky.sky(m.at)
		m.airs()
		m.weatherOnPots()
		if d := m.cal.DateOf(m.at); d != m.day {
			m.day = d
			m.midnight()
		}
	}
}

func (m *Model) weatherOnPots() {
	hours := grid.Hours()
	fall := m.now.Rain * hours
	wet := fall // what reaches pots in the open as water
	if m.now.Air < 0.5 {
		m.snow, wet = m.snow+fall, 0
	} else if m.snow > 0 {
		melt := min(m.snow, 3.2*(m.now.Air-0.5)*hours/24)
		m.snow, wet = m.snow-melt, wet+melt
	}
	for i := range m.places {
		if !m.places[i].roof {
			m.places[i].rain += wet
		}
	}
	for i := range m.pots {
		m.potStep(i, wet)
	}
}

func (m *Model) potStep(i int, wet float64) {
	p := &m.pots[i]
	open := p.place < 0 || !m.places[p.place].roof
	air := m.airAt(p.place)
	cover := 1.0
	if open && m.snow > 4 {
		cover = 0.3
	}
	p.conduct(air, grid.Seconds(), cover)
	if open && wet > 0 {
		litres := wet * math.Pi * p.radius * p.radius * rim
		p.ledger.Rained += litres
		p.ledger.Drained += p.add(litres, max(0.5, air))
	}
	if d := m.plan.drip(m, i); d > 0 {
		p.ledger.Dripped += d
		p.ledger.Drained += p.add(d, max(0.5, air))
	}
	demand := deficit(air, min(air, m.now.Dew))
	p.dry(demand, m.now.Wind, p.leaf, grid.Seconds())
	p.sum, p.n = p.sum+p.core(), p.n+1
	if p.frozen() > 0.98 {
		p.iced++
		p.harmed = p.harmed || p.iced > 288 && m.plan.cracks(m, i)
	} else {
		p.iced = 0
	}
}

func (m *Model) midnight() {
	for i := range m.pots {
		p := &m.pots[i]
		for _, what := range p.live(p.sum/max(1, p.n), m.cal.SeasonDay(m.day)) {
			m.saw = append(m.saw, sight{m.at, i, what})
		}
		p.sum, p.n = 0, 0
	}
}

// Water pours millilitres on a pot, at the model's present instant. Unknown pots are passed over.
func (m *Model) Water(pot string, millilitres float64) {
	if i := m.potIndex(pot); i >= 0 {
		p := &m.pots[i]
		p.ledger.Poured += millilitres / 1000
		p.ledger.Drained += p.add(millilitres/1000, 8)
	}
}

// Move puts a pot somewhere else.
func (m *Model) Move(pot, place string) {
	if i, j := m.potIndex(pot), m.placeIndex(place); i >= 0 && j >= 0 {
		m.pots[i].place = j
	}
}

// Mend replaces a pot's broken probe, and stops a drip over it.
func (m *Model) Mend(pot string) {
	if i := m.potIndex(pot); i >= 0 {
		m.pots[i].harmed = false
		m.plan.mend(m, i)
	}
}
