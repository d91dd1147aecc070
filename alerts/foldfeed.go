package alerts

import (
	"time"

	"lathwatch/sensors/indices"
)

// dressed starts the granules' clock.
func (f *Fold) dressed(i int, at time.Time) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	ps.Dressed = at
	pf.granules = indices.Granules{}
	if !ps.TempAt.IsZero() && at.Sub(ps.TempAt) <= stale {
		pf.granules.Take(at, int64(ps.Temp), true)
	}
	ps.FeedReleased = Interval{OK: true}
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
