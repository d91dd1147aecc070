package model

import (
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// plant is what is true of the plant in a pot and nobody is told: its account of cold, its warmth since, its leaf.
type plant struct {
	earliness garden.Earliness
	down      bool // leaves are down, the rest has begun
	credit    float64
	forcing   float64
	need      float64 // credit days
	nose      float64 // °C·d over 5 °C
	fade      int     // season day its leaves go down
	leaf      float64 // 0..1
	stage     int     // how many of stages are passed
}

// stages lists what a keeper sees and how much warmth after the nose it takes.
var stages = []struct {
	what sensors.What
	more float64
}{{sensors.Nose, 0}, {sensors.Opening, 22}, {sensors.Open, 55}, {sensors.Bud, 75}, {sensors.Flower, 125}}

// newPlant draws a plant's own needs within its class. A plant met from late spring to autumn is in leaf.
func newPlant(e garden.Earliness, n noise, i int64, seasonDay int) plant {
	base := map[garden.Earliness]float64{garden.Early: 62, garden.LateRiser: 340}[e]
	if base == 0 {
		base = 165
	}
	p := plant{earliness: e, need: 61 + 4*n.even(character, 4000+4*i), nose: base * (0.88 + 0.24*n.even(character, 4001+4*i)), fade: 42 + int(16*n.even(character, 4002+4*i))}
	if seasonDay < p.fade || seasonDay > 270 {
		p.leaf, p.stage = 1, len(stages)
	} else {
		p.down = true
	}
	return p
}

// live passes one civil day with the mean of its pot and returns what could be seen for the first time.
func (p *plant) live(mean float64, seasonDay int) (seen []sensors.What) {
	if !p.down {
		if seasonDay >= p.fade && seasonDay < 200 {
			p.down, p.leaf, p.stage, p.credit, p.forcing = true, 0, 0, 0, 0
			return []sensors.What{sensors.LeafDown}
		}
		p.leaf = min(1, p.leaf+0.012)
		return nil
	}
	if p.credit < p.need {
		p.credit += min(1, max(0, (8-mean)/3))
		return nil
	}
	p.forcing += max(0, mean-5)
	for p.stage < len(stages) && p.forcing >= p.nose+stages[p.stage].more {
		seen = append(seen, stages[p.stage].what)
		p.stage++
	}
	if p.stage > 1 {
		p.leaf = min(1, (p.forcing-p.nose-stages[1].more)/150)
	}
	if p.stage == len(stages) && p.leaf >= 1 {
		p.down = false
	}
	return seen
}
