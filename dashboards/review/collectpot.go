package review

import (
	"lathwatch/alerts"
	"lathwatch/sensors/garden"
)

func (c *Collector) potOf(p *alerts.PotStanding) (*potTrace, *Pot) {
	for i := range c.w.Pots {
		if c.w.Pots[i].ID == p.Pot.ID {
			return &c.pots[i], &c.w.Pots[i]
		}
	}
	w := Pot{ID: p.Pot.ID, Plant: p.Pot.Plant, Litres: p.Pot.Litres.Litres(), Clay: p.Pot.Clay, Mix: p.Pot.Mix, Parent: p.Parent}
	if p.Plant != nil {
		w.Name, w.Earliness = p.Plant.Name, p.Plant.Earliness.String()
	}
	c.w.Pots = append(c.w.Pots, w)
	c.pots = append(c.pots, potTrace{place: p.Place})
	n := len(c.w.Pots) - 1
	return &c.pots[n], &c.w.Pots[n]
}

// pot takes a pot's standing into its day.
func (c *Collector) pot(st *alerts.Standing, ps *alerts.PotStanding, dt int64) {
	if !ps.Gone.IsZero() && ps.Gone.Before(c.cal.Start(c.w.From)) {
		return
	}
	t, p := c.potOf(ps)
	if !ps.Gone.IsZero() {
		p.Gone = c.cal.DateOf(ps.Gone)
		return
	}
	p.Unknown = ps.Regime == nil
	if ps.Regime != nil {
		p.Regime = ps.Regime.Name
	}
	if ps.Place != t.place {
		p.Moves = append(p.Moves, Move{At: st.Day, To: ps.Place})
	}
	p.Place, t.place = ps.Place, ps.Place
	d := c.potDay(p, st.Day)
	c.temps(st, ps, p, d, dt)
	c.water(st, ps, p, d, dt)
	c.account(st, ps, p, d)
	c.stages(ps, p)
	c.aftermath(st, ps, t, p)
}

func (c *Collector) potDay(p *Pot, d garden.Date) *PotDay {
	if n := len(p.Days); n > 0 && p.Days[n-1].Date == d {
		return &p.Days[n-1]
	}
	p.Days = append(p.Days, PotDay{Date: d})
	return &p.Days[len(p.Days)-1]
}

func (c *Collector) temps(st *alerts.Standing, ps *alerts.PotStanding, p *Pot, d *PotDay, dt int64) {
	if ps.Frozen {
		d.frozenS += dt
	}
	if !ps.TempAt.Equal(st.At) {
		return
	}
	if !ps.FrozeAt.IsZero() && ps.FrozeLitres > p.Froze.V {
		p.Froze = Litres{c.cal.DateOf(ps.FrozeAt), ps.FrozeLitres}
	}
	v := int64(ps.Temp)
	if !d.TempOK {
		d.Min, d.Max, d.TempOK = v, v, true
	}
	d.Min, d.Max = min(d.Min, v), max(d.Max, v)
	p.Own = ps.TempOwn
	if p.Coldest.At == 0 || v < p.Coldest.V {
		p.Coldest = Extreme{st.Day, v}
	}
	if p.Hottest.At == 0 || v > p.Hottest.V {
		p.Hottest = Extreme{st.Day, v}
	}
	if v > 25_000 {
		p.Over25 += float64(dt) / 3600
	}
}

func (c *Collector) water(st *alerts.Standing, ps *alerts.PotStanding, p *Pot, d *PotDay, dt int64) {
	if !ps.WetnessOK || !ps.WetnessAt.Equal(st.At) {
		return
	}
	v := int64(ps.Wetness)
	if !d.WetOK {
		d.WetLow, d.WetHigh, d.WetOK = v, v, true
	}
	d.WetLow, d.WetHigh = min(d.WetLow, v), max(d.WetHigh, v)
	d.judgedS += dt
	if ps.Regime == nil {
		return
	}
	cell := ps.Regime.Cell(ps.Phase)
	switch rest := ps.Phase == garden.Rest; {
	case cell.Speak[garden.TooDry] && ps.Wetness < cell.Low && rest:
		d.dryS += dt
	case cell.Speak[garden.TooDry] && ps.Wetness < cell.Low:
		d.thirstS += dt
	case cell.Speak[garden.TooWet] && ps.Wetness > cell.High && rest:
		d.wetS += dt
	}
}

func (c *Collector) account(st *alerts.Standing, ps *alerts.PotStanding, p *Pot, d *PotDay) {
	if p.ColdStart == 0 && !ps.ColdStart.IsZero() {
		p.ColdStart = c.cal.DateOf(ps.ColdStart)
	}
	if ps.ColdCredit.OK {
		d.Cold, d.coldOK = [2]float64{ps.ColdCredit.Low, ps.ColdCredit.High}, true
		if p.Nose == 0 {
			p.Credit = d.Cold
		}
	}
	if p.EnoughOn == 0 && (ps.Cold == alerts.Enough || ps.Cold == alerts.Plenty) {
		p.EnoughOn = st.Day
	}
	if p.PlentyOn == 0 && ps.Cold == alerts.Plenty {
		p.PlentyOn = st.Day
	}
	if p.Nose == 0 && ps.Forcing.OK {
		p.Forcing = [2]float64{ps.Forcing.Low, ps.Forcing.High}
	}
	switch {
	case ps.Break != [2]garden.Date{}:
		d.Early, d.Late, d.How = ps.Break[0], ps.Break[1], ps.BreakHow
	case ps.EdgeDays.OK && ps.BreakHow != "":
		d.Early, d.Late, d.How = st.Day+garden.Date(ps.EdgeDays.Mid()+0.5), 0, ps.BreakHow
	}
	p.FreezeThaw = max(p.FreezeThaw, ps.FreezeThaw)
	if !ps.Dressed.IsZero() {
		p.DressedG = ps.DressedG
		p.Dressed, p.Released = c.cal.DateOf(ps.Dressed), [2]float64{ps.FeedReleased.Low, ps.FeedReleased.High}
	}
	if !ps.Repotted.IsZero() && c.cal.Season(c.cal.DateOf(ps.Repotted)) == c.Season {
		p.Repotted = c.cal.DateOf(ps.Repotted)
	}
}
