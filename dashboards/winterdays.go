package dashboards

import (
	"context"
	"fmt"
	"slices"
	"time"

	"lathwatch/dashboards/curve"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

// placeDays reads a place's air by days: of each day the first thermometer that has it, with its offsets of that time.
func (p *Pages) placeDays(ctx context.Context, g *garden.Garden, cal garden.Calendar, place string, from, until garden.Date) ([]Day, error) {
	return p.probeDays(ctx, cal, airProbes(g, place), from, until)
}

func (p *Pages) probeDays(ctx context.Context, cal garden.Calendar, probes []*garden.Probe, from, until garden.Date) ([]Day, error) {
	var all []Day
	for _, pr := range probes {
		days, err := p.cfg.Curves.Days(ctx, pr.ID, from, until)
		if err != nil {
			return nil, fmt.Errorf("reading the days of %s: %w", pr.ID, err)
		}
		have := map[garden.Date]bool{}
		for _, d := range all {
			have[d.Date] = true
		}
		for _, d := range days {
			if !have[d.Date] && d.N > 0 {
				all = append(all, corrected(pr, cal, d))
			}
		}
	}
	slices.SortFunc(all, func(a, b Day) int { return int(a.Date) - int(b.Date) })
	return all, nil
}

// corrected adds the offset of a probe that was valid on the day. Raw stays raw; the sum above 5 °C no longer holds then.
func corrected(pr *garden.Probe, cal garden.Calendar, d Day) Day {
	add := offsetAt(pr, cal.Start(d.Date))
	if add == 0 {
		return d
	}
	d.Min, d.Max, d.Sum, d.AboveOK = d.Min+add, d.Max+add, d.Sum+add*d.Covered, false
	return d
}

func offsetAt(pr *garden.Probe, at time.Time) int64 {
	add := int64(0)
	for _, o := range pr.Offset {
		if !o.From.After(at) {
			add = int64(o.Add)
		}
	}
	return add
}

// potAir are the days that stand for a pot's temperature: its own thermometer's, or lacking one its place's air.
func (p *Pages) potAir(ctx context.Context, g *garden.Garden, cal garden.Calendar, pot, place string, from, until garden.Date) (days []Day, own bool, err error) {
	var probes []*garden.Probe
	for i := range g.Probes {
		if pr := &g.Probes[i]; pr.Pot == pot && pr.Measures == garden.PotTemperature {
			probes = append(probes, pr)
		}
	}
	if len(probes) == 0 {
		days, err = p.placeDays(ctx, g, cal, place, from, until)
		return days, false, err
	}
	days, err = p.probeDays(ctx, cal, probes, from, until)
	return days, true, err
}

// sumPoint is what the sums of a season were known to be at the end of a day.
type sumPoint struct {
	Date               garden.Date
	DegreeDays         [2]float64 // °C·d above 5 °C since the season's first day
	Cold               [2]float64 // credit days
	Forcing            [2]float64 // °C·d above 5 °C since the account said enough
	Begun, ForcingOpen bool
}

// sine stands for a day whose hours are not known.
var sine = indices.DegreeDays{Method: indices.Sine, Base: 5}

// seasonSums adds up a season's days. A day without readings widens every interval; nothing is carried forward.
func seasonSums(cal garden.Calendar, season int, days []Day, until garden.Date, start time.Time) []sumPoint {
	s := summer{cal: cal, acc: indices.ColdAccount{Bounds: indices.DefaultCold}, start: start}
	byDate := map[garden.Date]*Day{}
	for i := range days {
		byDate[days[i].Date] = &days[i]
	}
	first := cal.SeasonStart(season)
	for first < until && byDate[first] == nil { // before the first reading nothing is known and nothing is claimed
		first++
	}
	var out []sumPoint
	for d := first; d < until; d++ {
		out = append(out, s.day(d, byDate[d]))
	}
	return out
}

type summer struct {
	cal        garden.Calendar
	acc        indices.ColdAccount
	dd         indices.Sum
	force      [2]int64 // m°C·s, least and most
	start      time.Time
	lastMax    int64
	hasMax     bool
	rate       int64
	openL, opn bool
}

func (s *summer) day(d garden.Date, got *Day) sumPoint {
	id := indices.Day{Date: d, Length: int64(s.cal.Length(d) / time.Second)}
	if got != nil {
		id.Covered, id.Sum, id.Min, id.Max = min(got.Covered, id.Length), got.Sum, got.Min, got.Max
		id.Above = above(got)
	}
	id.Missed = id.Length - id.Covered
	if id.Missed <= 3600 {
		id.Missed = 0 // rounds have edges, and a day laid over may be an hour longer: up to an hour a day is not a gap
	}
	s.rate = indices.GapRate(s.lastMax, id.Max, s.hasMax, 5000)
	if id.Covered > 0 {
		s.lastMax, s.hasMax = id.Max, true
	}
	s.dd.Add(id.Above, id.Covered, id.Missed, s.rate)
	if !s.start.IsZero() && !s.cal.Start(d+1).Before(s.start) {
		s.acc.Begin(s.start)
	}
	s.acc.Close(id, s.cal.Start(d), indices.SeasonMonths(s.cal, d))
	return s.point(d, id)
}

func (s *summer) point(d garden.Date, id indices.Day) sumPoint {
	p := sumPoint{Date: d, Begun: !s.acc.Start.IsZero()}
	p.DegreeDays[0], p.DegreeDays[1] = s.dd.DegreeDays()
	p.Cold[0], p.Cold[1] = s.acc.Credit(indices.Day{})
	if s.openL {
		s.force[0] += id.Above
	}
	if s.opn {
		s.force[1] += id.Above + id.Missed*s.rate
	}
	s.openL = s.openL || p.Cold[0] >= s.acc.Bounds.Enough
	s.opn = s.opn || p.Cold[1] >= s.acc.Bounds.Enough
	p.ForcingOpen = s.opn
	p.Forcing = [2]float64{float64(s.force[0]) / 86_400_000, float64(s.force[1]) / 86_400_000}
	return p
}

// above is a day's m°C·s over 5 °C: as summed from its readings, or from its extremes.
func above(d *Day) int64 {
	if d.AboveOK {
		return d.Above
	}
	dd := sine.Day(indices.DayRange{Min: float64(d.Min) / 1000, Max: float64(d.Max) / 1000})
	return int64(dd * 1000 * float64(d.Covered))
}

// airDays is what spells are found in.
func airDays(days []Day) []curve.DayAir {
	out := make([]curve.DayAir, 0, len(days))
	for i := range days {
		d := &days[i]
		mean, ok := d.Mean()
		if !ok {
			mean = (d.Min + d.Max) / 2
		}
		out = append(out, curve.DayAir{Date: d.Date, Min: d.Min, Max: d.Max, Mean: mean})
	}
	return out
}
