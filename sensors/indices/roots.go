package indices

import (
	"math"
	"time"
)

const (
	fusionHeat    = 333.6 // kJ/kg
	waterSpecific = 4.19  // kJ/(kg K)
)

// FreezeThaws counts the cycles that ended in the window up to now, from FrozenGate.CycleTimes.
func FreezeThaws(ends []time.Time, now time.Time, window time.Duration) int {
	n := 0
	for _, at := range ends {
		if !at.After(now) && now.Sub(at) < window {
			n++
		}
	}
	return n
}

// LatentKJ is the heat in kJ that freezing takes from a pot of so many litres holding theta m³/m³ of water, and by how many degrees the same
// heat would cool that water as a liquid.
func LatentKJ(litres, theta float64) (kJ, kelvin float64) {
	return litres * theta * fusionHeat, fusionHeat / waterSpecific
}

// PlateauHours is how long a pot stays at 0 °C while losing so many watts.
func PlateauHours(litres, theta, watts float64) float64 {
	kJ, _ := LatentKJ(litres, theta)
	return kJ * 1000 / watts / 3600
}

// RootClass is how hardy the roots would have to be to live through a pot temperature.
type RootClass uint8

// Classes of container roots by the warmest temperature that kills them (Steponkus 1976, Havis 1976, Studer et al. 1978, from
// memory). None is known for these plants; their alarms are cautious guesses above all of these.
const (
	RootsAnyLive RootClass = iota
	RootsTenderDie
	RootsMiddlingDie
	RootsHardyDie
)

// Where each class begins to die.
const (
	RootTenderKill   Milli = -5000
	RootMiddlingKill Milli = -7000
	RootHardyKill    Milli = -12000
)

// RootsAt gives the class of container roots that dies at a pot temperature in m°C.
func RootsAt(pot Milli) RootClass {
	switch {
	case pot <= RootHardyKill:
		return RootsHardyDie
	case pot <= RootMiddlingKill:
		return RootsMiddlingDie
	case pot <= RootTenderKill:
		return RootsTenderDie
	}
	return RootsAnyLive
}

// RootLimit gives the default warning temperature at the pot's core in m°C: guesses, raised by 3 °C before midwinter's hardening
// is done (before 1 December, or 1 June in the south).
func RootLimit(dryRest, neverFreeze, hardened bool) Milli {
	limit := Milli(-5000)
	switch {
	case neverFreeze:
		limit = 500
	case dryRest:
		limit = -3000
	}
	if !hardened {
		limit += 3000
	}
	return limit
}

// FrostPlateau measures how long a pot was held at 0 °C and the cold it stood in, and so how much water froze. Experimental: it
// takes the pot for a cylinder with one film of air about it, and a thermometer at its core. The zero value is ready.
type FrostPlateau struct {
	Litres float64 // 0 means 3
	FilmW  float64 // W/(m² K) at the wall, 0 means 9: still air and radiation

	on      bool
	start   time.Time
	last    time.Time
	lastAir Milli
	have    bool
	cold    int64 // m°C·s below zero since the plateau began
	water   float64
	at      time.Time
}

const (
	plateauBand  Milli = 350
	plateauEnd   Milli = -700
	plateauLeast       = 6 * time.Hour
)

// Take feeds the pot's core and the air beside it in m°C. It reports whether a plateau has just ended with a figure.
func (p *FrostPlateau) Take(now time.Time, pot, air Milli) bool {
	dt := now.Sub(p.last)
	prevAir, had := p.lastAir, p.have
	p.last, p.lastAir, p.have = now, air, true
	if !had {
		return false
	}
	if dt > gateLost {
		p.on = false
		return false
	}
	switch {
	case !p.on && pot > -plateauBand && pot <= plateauBand && air < 0:
		p.on, p.start, p.cold = true, now, 0
	case p.on && pot > 2*plateauBand:
		p.on = false // thawed again before it had frozen through
	case p.on:
		p.cold -= (air + prevAir) / 2 * int64(dt/time.Second)
		if pot < plateauEnd {
			p.on = false
			return p.finish(now)
		}
	}
	return false
}

func (p *FrostPlateau) finish(now time.Time) bool {
	if now.Sub(p.start) < plateauLeast || p.cold <= 0 {
		return false
	}
	p.water, p.at = p.solve(float64(p.cold)/1000), now
	return true
}

// solve inverts Plank's freezing time of a cylinder (Plank 1913): latent heat = cold·t / (R/2h + R²/4k), with the conductivity k
// of the frozen mix depending on the water sought.
func (p *FrostPlateau) solve(kelvinSeconds float64) float64 {
	litres, film := p.Litres, p.FilmW
	if litres == 0 {
		litres = 3
	}
	if film == 0 {
		film = 9
	}
	r, height := potShape(litres)
	ends := 1 + (3*r*r)/(film*2*r*height) // the bottom loses a third of what a wall does
	theta := 0.25
	for range 20 {
		k := 0.12 + 0.7*theta
		theta = ends * kelvinSeconds / (r/(2*film) + r*r/(4*k)) / (fusionHeat * 1e6)
		theta = min(theta, 0.6)
	}
	return theta * litres
}

// potShape gives radius and height in m of a pot as wide at half height as a common 3 L one (8.5 cm).
func potShape(litres float64) (r, height float64) {
	r = 0.085 * math.Cbrt(litres/3)
	return r, litres / 1000 / (math.Pi * r * r)
}

// Water gives the litres that froze in the newest whole plateau and when it ended. Rough: a check on a moisture probe, or the only
// figure of a pot with just a thermometer.
func (p *FrostPlateau) Water() (litres float64, at time.Time, ok bool) {
	return p.water, p.at, !p.at.IsZero()
}

// On says that the pot stands on the plateau, since when.
func (p *FrostPlateau) On() (since time.Time, ok bool) { return p.start, p.on }
