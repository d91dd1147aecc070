package review

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/units"
)

// A Collector gathers one season from the walk: after each entry it is shown the Standing, the note if it was one, and the changes
// it caused. It keeps nothing of the Standing itself.
type Collector struct {
	Season int

	w      Winter
	begun  bool
	cal    garden.Calendar
	places []placeTrace
	pots   []potTrace
	last   time.Time
	order  []string // pots as the newest Standing has them
}

type placeTrace struct {
	trace  indices.Trace
	days   indices.Days
	covers int64
	night  int // index into Nights of the present one, -1
	from   time.Time
}

type potTrace struct {
	pending int // waterings whose aftermath is still watched begin here
	place   string
}

// longest is the longest stretch between two rounds that is taken as observed.
const longest = 3 * time.Hour

// Round takes the Standing after a round.
func (c *Collector) Round(st *alerts.Standing) {
	if st.Garden == nil || st.Season != c.Season {
		return
	}
	if !c.begun {
		c.begin(st)
	}
	c.w.Until = st.Day
	dt := int64(0)
	if d := st.At.Sub(c.last); !c.last.IsZero() && d > 0 && d <= longest {
		dt = int64(d / time.Second)
	}
	for i := range st.Places {
		c.air(st, i)
	}
	c.order = c.order[:0]
	for i := range st.Pots {
		c.order = append(c.order, st.Pots[i].Pot.ID)
		c.pot(st, &st.Pots[i], dt)
	}
	c.last = st.At
}

func (c *Collector) begin(st *alerts.Standing) {
	c.begun, c.cal = true, st.Cal
	g := st.Garden
	c.w = Winter{Version: Version, Season: c.Season, Site: g.Site.Name, Zone: st.Cal.Zone.String(), South: st.Cal.South, Fahrenheit: g.Site.Fahrenheit, From: st.Day}
	if c.w.Site == "" {
		c.w.Site = g.Site.ID
	}
}

func (c *Collector) placeOf(p *garden.Place) (int, *Place) {
	for i := range c.w.Places {
		if c.w.Places[i].ID == p.ID {
			return i, &c.w.Places[i]
		}
	}
	c.w.Places = append(c.w.Places, Place{ID: p.ID, Name: p.Name, Roof: p.Roof, Shaded: p.Shaded})
	c.places = append(c.places, placeTrace{days: indices.Days{Cal: c.cal, Base: 5000}, night: -1})
	n := len(c.w.Places) - 1
	return n, &c.w.Places[n]
}

// air takes a place's reading into its day and its night.
func (c *Collector) air(st *alerts.Standing, i int) {
	ps := &st.Places[i]
	k, _ := c.placeOf(ps.Place)
	t := &c.places[k]
	if !ps.AirAt.Equal(st.At) {
		return
	}
	v := int64(ps.Air)
	if seg, ok := t.trace.Take(st.At, v); ok {
		t.days.Take(seg, func(d indices.Day) { c.airDay(k, d) })
	}
	c.w.Places[k].DegreeDays = [2]float64{ps.DegreeDays.Low, ps.DegreeDays.High}
	c.nightOf(st, i, k, v)
}

func (c *Collector) airDay(k int, d indices.Day) {
	mean, ok := d.Mean()
	if !ok {
		return
	}
	c.places[k].covers += d.Covered
	c.w.Places[k].Days = append(c.w.Places[k].Days, AirDay{Date: d.Date, Min: d.Min, Max: d.Max, Mean: mean, Covered: d.Covered})
}

// evening is the hour by which a frost warning must be out.
const evening = 21

func (c *Collector) nightOf(st *alerts.Standing, i, k int, v int64) {
	ps, t := &st.Places[i], &c.places[k]
	n := st.Cal.Night(st.At)
	if t.night < 0 || c.w.Nights[t.night].Date != n {
		c.w.Nights = append(c.w.Nights, Night{Date: n, Place: ps.Place.ID, Min: v})
		t.night, t.from = len(c.w.Nights)-1, st.At
	}
	nt := &c.w.Nights[t.night]
	nt.Min = min(nt.Min, v)
	y, m, d := n.Civil()
	if !t.from.After(time.Date(y, m, d, 18, 0, 0, 0, c.cal.Zone)) && !st.At.Before(time.Date(y, m, d+1, 8, 0, 0, 0, c.cal.Zone)) {
		nt.Whole = true
	}
	if st.At.After(time.Date(y, m, d, evening, 0, 0, 0, c.cal.Zone)) {
		return
	}
	if ps.ExpectedFirm && ps.Expected.OK {
		nt.Expected, nt.Error, nt.How, nt.OK = int64(ps.Expected.Mid()*1000), int64((ps.Expected.High-ps.Expected.Low)*500), ps.ExpectedHow, true
	}
	nt.Opened = 0
	for j := range st.Pots {
		if p := &st.Pots[j]; p.Place == ps.Place.ID && p.Stage >= alerts.Opening && p.Stage <= alerts.Flower && p.Gone.IsZero() {
			nt.Opened++
		}
	}
}

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
		p.Dressed, p.Released = c.cal.DateOf(ps.Dressed), [2]float64{ps.FeedReleased.Low, ps.FeedReleased.High}
	}
	if !ps.Repotted.IsZero() && c.cal.Season(c.cal.DateOf(ps.Repotted)) == c.Season {
		p.Repotted = c.cal.DateOf(ps.Repotted)
	}
}

// Note takes a note the walk has folded, with the pots it meant.
func (c *Collector) Note(st *alerts.Standing, n *sensors.Note, pots []int) {
	if st.Garden == nil || !c.begun || c.cal.Season(c.cal.DateOf(n.At)) != c.Season {
		return
	}
	for _, i := range pots {
		ps := &st.Pots[i]
		_, p := c.potOf(ps)
		switch n.What {
		case sensors.Watered:
			c.watered(ps, p, n)
		case sensors.Fed:
			p.Feeds = append(p.Feeds, Feed{n.At, n.Detail})
		case sensors.Lost:
			p.Lost = n.Detail
			if p.Lost == "" {
				p.Lost = "no cause noted"
			}
			p.Gone = c.cal.DateOf(n.At)
		}
		c.stages(ps, p)
	}
}

// stages dates what the plant showed, by the notes folded.
func (c *Collector) stages(ps *alerts.PotStanding, p *Pot) {
	if ps.Shoots > 0 {
		p.Shoots = ps.Shoots
	}
	if ps.StageAt.IsZero() {
		return
	}
	d := c.cal.DateOf(ps.StageAt)
	if c.cal.Season(d) != c.Season {
		return
	}
	set := func(at *garden.Date) {
		if *at == 0 {
			*at = d
		}
	}
	switch ps.Stage {
	case alerts.LeafDown:
		set(&p.LeafDown)
	case alerts.Flower:
		set(&p.Flower)
		set(&p.Opening)
		set(&p.Nose)
	case alerts.Opening, alerts.Open, alerts.Bud:
		set(&p.Opening)
		set(&p.Nose)
	case alerts.Nose:
		set(&p.Nose)
	}
}

func (c *Collector) watered(ps *alerts.PotStanding, p *Pot, n *sensors.Note) {
	w := Watering{At: n.At, Before: int64(ps.Wetness), BeforeOK: ps.WetnessOK && n.At.Sub(ps.WetnessAt) <= longest, Frozen: ps.Frozen, DryDays: ps.DryDays}
	var v units.Volume
	if v.UnmarshalText([]byte(n.Detail)) == nil {
		w.ML = int64(v)
	}
	if ps.Regime != nil {
		cell := ps.Regime.Cell(ps.Phase)
		w.Low, w.Target, w.LowDays = int64(cell.Low), int64(cell.Target), cell.LowDays
		if cell.Speak[garden.TooWet] {
			w.High = int64(cell.High)
		}
	}
	w.Judged = judgeWatering(&w, ps.Regime != nil)
	p.Waterings = append(p.Waterings, w)
}

const afterWater = 36 * time.Hour

func (c *Collector) aftermath(st *alerts.Standing, ps *alerts.PotStanding, t *potTrace, p *Pot) {
	for t.pending < len(p.Waterings) && st.At.Sub(p.Waterings[t.pending].At) > afterWater {
		t.pending++
	}
	if !ps.WetnessOK || !ps.WetnessAt.Equal(st.At) {
		return
	}
	for i := t.pending; i < len(p.Waterings); i++ {
		w := &p.Waterings[i]
		w.After, w.AfterOK = max(w.After, int64(ps.Wetness)), true
	}
}

// judgeWatering says what a watering was against the pot's need by its regime's row. A late one came over two days after the row
// asked for it.
func judgeWatering(w *Watering, known bool) string {
	switch {
	case w.Frozen:
		return WaterFrozen
	case !w.BeforeOK || !known:
		return WaterUnknown
	case w.Before < w.Low && w.DryDays > float64(w.LowDays)+2:
		return WaterLate
	case w.Before < w.Low && w.DryDays >= float64(w.LowDays):
		return WaterNeeded
	case w.Before < w.Low:
		return WaterInTime
	case w.Before < w.Low+(w.Target-w.Low)/2:
		return WaterEarly
	}
	return WaterNeedless
}
