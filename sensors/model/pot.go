package model

import (
	"math"

	"lathwatch/sensors/garden"
)

// shells is how many rings a pot is cut into, from the core out.
const shells = 6

// A shell holds heat and water of one ring. Heat is nought with all its water frozen at 0 °C, MJ/m³.
type shell struct {
	m3, water, heat float64 // m³, m³ of water per m³, MJ/m³
}

// Figures of the pot: solids 0.34, water 4.18 and ice 2.0 MJ/m³K, latent heat 334 MJ/m³ of water, conductivity 0.12 + 0.7 x
// water W/mK, outer film 9 and bottom 3 W/m²K. The top's film lies behind the mean path through a quarter of the height.
const (
	solids, liquid, ice, latent = 0.34, 4.18, 2.0, 334.0
	film, bottom                = 9.0, 3.0
	rim                         = 1.23 // mouth over mean area
)

func (s *shell) celsius() float64 {
	switch full := latent * s.water; {
	case s.heat < 0:
		return s.heat / (solids + ice*s.water)
	case s.heat > full:
		return (s.heat - full) / (solids + liquid*s.water)
	}
	return 0
}

// liquid is how much of the shell's water is not ice, 0..1.
func (s *shell) thawed() float64 {
	if s.water <= 0 {
		return 1
	}
	return min(1, max(0, s.heat/(latent*s.water)))
}

// pot is one container with its soil.
type pot struct {
	radius, height float64 // m
	full           float64 // m³ of water when drained
	clay           bool
	shells         [shells]shell
	ledger         Ledger
}

// Ledger is what went into a pot and out of it since the start: the balance its tests hold it to. Litres and MJ.
type Ledger struct {
	Rained, Poured, Dripped, Drained, Evaporated float64
	Conducted, Carried                           float64 // heat through the walls, and with water
}

// newPot makes a pot at a temperature with a share of its drained-full water. A 3 L pot is 17 cm wide; others keep its shape.
func newPot(p *garden.Pot, celsius, share float64) pot {
	litres := 3.0
	if p.Litres > 0 {
		litres = p.Litres.Litres()
	}
	q := pot{radius: 0.085 * math.Cbrt(litres/3), clay: p.Clay}
	q.height = litres / 1000 / (math.Pi * q.radius * q.radius)
	q.full = holds(p.Mix) * litres / 1000
	w := holds(p.Mix) * share
	for i := range q.shells {
		outer, inner := float64(i+1)/shells, float64(i)/shells
		q.shells[i] = shell{m3: litres / 1000 * (outer*outer - inner*inner), water: w}
		if celsius < 0 {
			q.shells[i].heat = celsius * (solids + ice*w)
		} else {
			q.shells[i].heat = latent*w + celsius*(solids+liquid*w)
		}
	}
	return q
}

// conduct lets heat flow for dt seconds with air at a temperature; cover is 1, or less under snow.
func (p *pot) conduct(air, dt, cover float64) {
	dr := p.radius / shells
	steps := 1
	for i := range p.shells {
		s := &p.shells[i]
		limit := 0.4 * dr * dr * (solids + ice*s.water) * 1e6 / (0.12 + 0.7*s.water)
		steps = max(steps, int(math.Ceil(dt/limit)))
	}
	dt /= float64(steps)
	for range steps {
		p.flow(air, dt, cover, dr)
	}
}

func (p *pot) flow(air, dt, cover, dr float64) {
	var t, k, in [shells]float64
	for i := range p.shells {
		t[i] = p.shells[i].celsius()
		k[i] = 0.12 + 0.7*p.shells[i].water
	}
	for i := range p.shells {
		area := p.shells[i].m3 / p.height
		top := 1 / (1/(film*cover) + p.height/4/k[i])
		through := (top + bottom*cover) * area * (air - t[i])
		if i < shells-1 {
			radius := float64(i+1) * dr
			next := 2 * math.Pi * radius * p.height * 0.5 * (k[i] + k[i+1]) / dr * (t[i+1] - t[i])
			in[i] += next
			in[i+1] -= next
		} else {
			side := 2 * math.Pi * p.radius * p.height
			through += side / (1/(film*cover) + dr/2/k[i]) * (air - t[i])
		}
		in[i] += through
		p.ledger.Conducted += through * dt / 1e6
	}
	for i := range p.shells {
		p.shells[i].heat += in[i] * dt / 1e6 / p.shells[i].m3
	}
}

// add pours litres of water at a temperature evenly into what is not frozen solid and returns what ran off.
func (p *pot) add(litres, celsius float64) (ranOff float64) {
	open := 0.0
	for i := range p.shells {
		if p.shells[i].thawed() > 0.05 {
			open += p.shells[i].m3
		}
	}
	if open < 0.25*p.volume() {
		return litres
	}
	more := litres / 1000 / open
	for i := range p.shells {
		if s := &p.shells[i]; s.thawed() > 0.05 {
			s.water += more
			s.heat += more * (latent + liquid*celsius)
			p.ledger.Carried += more * s.m3 * (latent + liquid*celsius)
		}
	}
	return 0
}

// lose takes up to litres of liquid water, in proportion to where it is, and returns what was taken. Some stays for ever.
func (p *pot) lose(litres float64) float64 {
	const bound = 0.012
	free := 0.0
	for i := range p.shells {
		s := &p.shells[i]
		free += max(0, s.water*s.thawed()-bound) * s.m3
	}
	if free <= 0 {
		return 0
	}
	part := min(0.5, litres/1000/free)
	for i := range p.shells {
		s := &p.shells[i]
		out := part * max(0, s.water*s.thawed()-bound)
		carried := out * (latent + liquid*max(0, s.celsius()))
		s.water -= out
		s.heat -= carried
		p.ledger.Carried -= carried * s.m3
	}
	return part * free * 1000
}

// dry lets water go for dt seconds: from the soil's face by the air's demand, through leaves, and what stands over drained-full
// out of the hole.
func (p *pot) dry(demand, wind, leaf, dt float64) {
	days := dt / 86400
	share := p.share()
	area := math.Pi * p.radius * p.radius
	if p.clay {
		area *= 3.5 // the wall is about two and a half times the top
	}
	face := 4.2 * demand * (0.6 + 0.18*wind) * (0.35 + 0.65*min(1, share)) * area // L/day of 1 mm
	drunk := 0.5 * demand * leaf * p.volume() * 1000 / 3 * min(1, max(0, share-0.05)/0.35)
	p.ledger.Evaporated += p.lose((face + drunk) * days)
	if over := p.water() - p.full*1000; over > 0 {
		p.ledger.Drained += p.lose(over * (1 - math.Exp(-dt/1500)))
	}
}

func (p *pot) volume() float64 {
	v := 0.0
	for i := range p.shells {
		v += p.shells[i].m3
	}
	return v
}

// water is all water in the pot, ice included, in litres.
func (p *pot) water() float64 {
	w := 0.0
	for i := range p.shells {
		w += p.shells[i].m3 * p.shells[i].water
	}
	return w * 1000
}

// share is water over drained-full, ice included.
func (p *pot) share() float64 { return p.water() / 1000 / p.full }

// frozen is the share of the water that is ice.
func (p *pot) frozen() float64 {
	iced, all := 0.0, 0.0
	for i := range p.shells {
		s := &p.shells[i]
		iced += s.m3 * s.water * (1 - s.thawed())
		all += s.m3 * s.water
	}
	return iced / all
}

// core is what a thermometer at half depth near the middle feels.
func (p *pot) core() float64 {
	return (p.shells[0].celsius()*p.shells[0].m3 + p.shells[1].celsius()*p.shells[1].m3) / (p.shells[0].m3 + p.shells[1].m3)
}

// heat is all heat in the pot, MJ.
func (p *pot) heat() float64 {
	h := 0.0
	for i := range p.shells {
		h += p.shells[i].m3 * p.shells[i].heat
	}
	return h
}

// apparent is what a capacitive probe at half depth takes for water, over drained-full: ice hardly counts for it.
func (p *pot) apparent() float64 {
	const iceCounts = 0.24
	seen, v := 0.0, 0.0
	for i := range shells - 1 {
		s := &p.shells[i]
		th := s.thawed()
		seen += s.m3 * s.water * (th + iceCounts*(1-th))
		v += s.m3
	}
	return seen / v * p.volume() / p.full
}
