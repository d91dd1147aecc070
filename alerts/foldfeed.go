package alerts

import (
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// dressed starts the granules' clock.
func (f *Fold) dressed(i int, n *sensors.Note) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	ps.Dressed, ps.DressedG = n.At, garden.ReadDressing(n.Detail)
	pf.granules = indices.Granules{}
	if !ps.TempAt.IsZero() && n.At.Sub(ps.TempAt) <= stale {
		pf.granules.Take(n.At, int64(ps.Temp), true)
	}
	ps.FeedReleased = Interval{OK: true}
}

// fed keeps a liquid feed of the season.
func (f *Fold) fed(i int, n *sensors.Note) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	ps.Fed = n.At
	pf.steps.Fed(n.At)
	if !n.At.Before(f.st.SeasonFrom) {
		ps.Feeds = append(ps.Feeds, Given{n.At, n.Detail})
	}
}

// stageDates keeps when the plant first opened and first flowered in its season.
func (f *Fold) stageDates(ps *PotStanding, stage Stage, at time.Time) {
	if at.Before(f.st.SeasonFrom) {
		return
	}
	if stage >= Opening && stage < LeafDown && ps.OpenedAt.IsZero() {
		ps.OpenedAt = at
	}
	if stage == Flower && ps.FlowerAt.IsZero() {
		ps.FlowerAt = at
	}
}

// feed lets the granules release by the pot's temperature, hour by hour; in a frozen or dry pot they wait.
func (f *Fold) feed(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if ps.Dressed.IsZero() || now.Sub(ps.TempAt) > stale {
		return
	}
	dry := ps.Regime != nil && ps.WetnessOK && ps.Wetness < ps.Regime.Cell(ps.Phase).Low
	pf.granules.Take(now, int64(ps.Temp), !ps.Frozen && !dry)
	low, high := pf.granules.Released()
	ps.FeedReleased = Interval{low, high, true}
}

// FeedStop gives what the plan says of a pot's plant, its first day without liquid feed, and whether its flower set that day. In autumn
// the plant still stands in the season that named its stage.
func (st *Standing) FeedStop(p *PotStanding) (group garden.FeedGroup, stop garden.Date, byFlower bool) {
	hunger := ""
	if p.Plant != nil {
		hunger = p.Plant.Hunger
	}
	group = st.Garden.Feed.Group(hunger)
	season, flower := st.Season, garden.Date(0)
	if !p.StageAt.IsZero() {
		season = min(season, st.Cal.Season(st.Cal.DateOf(p.StageAt)))
	}
	switch {
	case !p.FlowerAt.IsZero():
		flower = st.Cal.DateOf(p.FlowerAt)
	case p.Stage == Flower:
		flower = st.Cal.DateOf(p.StageAt)
	}
	stop = group.Stop(st.Cal, season, flower)
	return group, stop, flower != 0 && stop == flower
}
