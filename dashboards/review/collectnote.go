package review

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// Note takes a note the walk has folded, with the pots it meant.
func (c *Collector) Note(st *alerts.Standing, n *sensors.Note, pots []int) {
	if st.Garden == nil || !c.begun || c.cal.Season(c.cal.DateOf(n.At)) != c.Season {
		return
	}
	for _, i := range pots {
		ps := &st.Pots[i]
		_, p := c.potOf(ps)
		if _, poured := n.Poured(); poured {
			c.watered(ps, p, n)
		}
		switch n.What {
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
