package review

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
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
	c.w.Places[k].Damp, c.w.Places[k].Mouldy = ps.Mould.Known, ps.Mould.Spells
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
