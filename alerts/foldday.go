package alerts

import (
	"math"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/units"
)

// keptDays is how many days of small curves a Standing carries for each pot: a season and the 60 days before it.
const keptDays = 430

// warmDay is the mean from which a resting pot's day counts as warm, m°C (a guess).
const warmDay = 7500

// season begins a new season's accounts when the calendar says so.
func (f *Fold) season(s int) {
	if s == f.st.Season {
		return
	}
	f.st.Season = s
	f.st.SeasonFrom = f.st.Cal.Start(f.st.Cal.SeasonStart(s))
	for i := range f.places {
		f.places[i].sum = indices.Sum{}
		f.st.Places[i].Yardsticks = Yardsticks{}
		f.st.Places[i].Mould.Spells, f.st.Places[i].Mould.Last = 0, time.Time{}
	}
	for i := range f.pots {
		pf, ps := &f.pots[i], &f.st.Pots[i]
		if pf.season == s {
			continue
		}
		pf.season = s
		pf.cold.Reset()
		pf.forcing, pf.enough, pf.coldDone, pf.leafDown = indices.Sum{}, [2]bool{}, false, false
		pf.forced, pf.nose = forced{}, noseSeen{}
		ps.Foretold, ps.NoseAt = [2]garden.Date{}, time.Time{}
		pf.cycles += ps.FreezeThaw
		ps.FreezeThaw = 0
		ps.FrozeLitres, ps.FrozeAt = 0, time.Time{}
		ps.Dressed, ps.DressedG, ps.FeedReleased, ps.Overdue = time.Time{}, 0, Interval{}, false
		ps.Feeds, ps.OpenedAt, ps.FlowerAt = nil, time.Time{}, time.Time{}
		ps.Cold, ps.Forcing, ps.EdgeDays, ps.Break, ps.BreakHow = ColdUnknown, Interval{}, Interval{}, [2]garden.Date{}, ""
	}
}

// potDay closes a civil day of a pot: cold account first, then forcing if the account says enough, then the small curve.
func (f *Fold) potDay(i int, d indices.Day) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	pf.cold.Close(d, f.st.Cal.Start(d.Date), indices.SeasonMonths(f.st.Cal, d.Date))
	f.force(i, d)
	if d.Covered > 0 {
		pf.lastDay, pf.hasDay = d, true
		mean, _ := d.Mean()
		ps.LastMean = units.MilliCelsius(mean)
		ps.heatMean(mean)
		pf.warmth.take(d.Above)
		if ps.WarmDays++; mean < warmDay {
			ps.WarmDays = 0
		}
	} else {
		ps.WarmDays = 0
	}
	seen := ps.WetnessOK || len(pf.weights) > 0                 // a weight speaks for its own day
	seen = seen && !ps.WetnessAt.Before(f.st.Cal.Start(d.Date)) // an old reading is not one of a day without any
	p := DayPoint{Day: d.Date, Wet: ps.Wetness, WetOK: seen, Wetted: f.wetted(i, d.Date), TempOK: d.Covered > 0}
	p.Min, p.Max = units.MilliCelsius(d.Min), units.MilliCelsius(d.Max)
	if len(ps.History) == keptDays {
		ps.History = append(ps.History[:0], ps.History[1:]...)
	}
	ps.History = append(ps.History, p)
	if d.Date+1 == f.st.Day {
		f.breaks(i, f.st.Day)
	}
}

// force adds a day's warmth to what pushes the bud, once the rest was long enough: the low end of the sum counts from when the
// account was certainly enough, the high end from when it may have been.
func (f *Fold) force(i int, d indices.Day) {
	pf := &f.pots[i]
	rate := indices.GapRate(pf.lastDay.Max, d.Max, pf.hasDay, 5000)
	if pf.enough[0] {
		pf.forcing.Low += d.Above
		pf.forced.take(f.st.Cal.SeasonDay(d.Date), d.Above)
	}
	if pf.enough[1] {
		pf.forcing.High += d.Above + d.Missed*rate
		pf.forcing.Covered += d.Covered
		pf.forcing.Span += d.Covered + d.Missed
	}
	low, high := pf.cold.Credit(indices.Day{})
	pf.enough[0] = pf.enough[0] || pf.coldDone || low >= pf.cold.Bounds.Enough
	pf.enough[1] = pf.enough[1] || pf.coldDone || high >= pf.cold.Bounds.Enough
}

func (pf *potFold) forcingNow() Interval {
	if !pf.enough[1] {
		return Interval{}
	}
	s := pf.forcing
	if pf.enough[0] {
		s.Low += pf.days.Today.Above
	}
	s.High += pf.days.Today.Above
	low, high := s.DegreeDays()
	return Interval{low, high, true}
}

// phase says whether the pot rests or grows. The keeper's own notes come first, then the cold, then the regime's calendar.
func (f *Fold) phase(now time.Time, i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	r := ps.Regime
	if r == nil {
		r = &garden.Regimes[0]
	}
	day := f.st.Cal.SeasonDay(f.st.Day)
	rest := day >= r.RestFrom && day < r.RestUntil || day+365 < r.RestUntil
	if r.CuedByCold {
		switch {
		case ps.Stage >= Nose && ps.Stage < LeafDown:
			rest = false
		case pf.leafDown, !pf.cold.Start.IsZero() && day < r.RestUntil:
			rest = true
		}
	}
	phase := garden.Growth
	if rest {
		phase = garden.Rest
	}
	if phase != ps.Phase {
		ps.Phase = phase
		pf.down.Season(phase == garden.Growth)
		f.resetClocks(now, i)
	}
	f.restStage(i)
}

// restStage closes last season's stage once the plant rests again.
func (f *Fold) restStage(i int) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if ps.Stage == Closed || ps.StageAt.IsZero() {
		return
	}
	old := f.st.Cal.Season(f.st.Cal.DateOf(ps.StageAt)) < f.st.Season
	if ps.Stage == LeafDown && f.st.Cal.SeasonDay(f.st.Day) >= winterDay {
		old = true // what the leaves did last autumn says nothing of the nose
	}
	if old && !pf.cold.Start.IsZero() {
		ps.Stage, ps.StageAt = Closed, time.Time{}
	}
}

// winterDay is the season day of midwinter, 1 January in the north: a closed nose is meant from then on.
const winterDay = 122

// EarlyEdge is the forcing sum, in °C·d base 5 °C after enough cold, at which the first plants of a class show: 40, 120 and 280
// for early, middle and late kinds, until the plant's own years are on record. No paper on these plants gives a figure: a guess, uncertain by half.
func EarlyEdge(p *PotStanding) float64 {
	if len(p.Own) > 0 {
		need := needOf(p)
		return math.Max(need.Mean+at20*need.Spread(), 0)
	}
	if p.Plant != nil {
		switch p.Plant.Earliness {
		case garden.Early:
			return 40
		case garden.LateRiser:
			return 280
		}
	}
	return 120
}
