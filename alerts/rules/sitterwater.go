package rules

import (
	"math"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// sitterSettings: the visits agreed with the sitter. That visits of three days apart do for most mixes in summer is growers'
// habit; all figures are the keeper's to set.
type sitterSettings struct {
	First units.Span `toml:"first"` // from the day the keeper goes away to the first visit, 2 d
	Every units.Span `toml:"every"` // between visits, 3 d
	Hour  units.Span `toml:"hour"`  // after midnight, 18 h
	From  units.Span `toml:"from"`  // earliest time of day to send, 9 h
	Until units.Span `toml:"until"` // latest, 20 h
}

func init() {
	add(Entry{Kind: "sitter-water", Doc: "while the keeper is away the sitter is asked for one visit more when a pot will fall under its limit before the next one agreed (own reckoning on the last day's drying)",
		Example: "[rule.sitter-water]\nfirst = \"2 d\"\nevery = \"3 d\"\nhour = \"18 h\"\nfrom = \"9 h\"\nuntil = \"20 h\"\n", Build: buildSitterWater})
}

func buildSitterWater(raw table.Raw) (alerts.Rule, error) {
	const h = units.Span(time.Hour)
	set, err := settings(raw, sitterSettings{First: 48 * h, Every: 72 * h, Hour: 18 * h, From: 9 * h, Until: 20 * h})
	if err == nil && (set.Every < 24*h || set.First < 0) {
		err = raw.Errorf("every", "visits are at least a day apart and not before the keeper leaves: write every = \"3 d\", first = \"2 d\"")
	}
	return alerts.Rule{Kind: "sitter-water", Rank: alerts.Week, Linger: 24 * time.Hour, Together: true, Sitter: true,
		From: clock(set.From), Until: clock(set.Until),
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findSitterWater(st, found, set) },
		Say:  alerts.SaySitterWater}, err
}

func clock(s units.Span) alerts.Clock { return alerts.Clock(s.Duration() / time.Minute) }

// visits are the last visit agreed before an instant and the next one after it; zero where there is none while the keeper is away.
func (s sitterSettings) visits(st *alerts.Standing) (last, next time.Time) {
	days := func(d units.Span) garden.Date { return garden.Date(d.Duration() / (24 * time.Hour)) }
	for d := st.Cal.DateOf(st.Away.Since) + days(s.First); ; d += max(days(s.Every), 1) {
		y, m, day := d.Civil()
		v := time.Date(y, m, day, 0, int(s.Hour.Duration()/time.Minute), 0, 0, st.Cal.Zone)
		if v.After(st.Away.Until) {
			return last, time.Time{}
		}
		if v.After(st.At) {
			return last, v
		}
		last = v
	}
}

// A visit is not called for within visitNear before the next one, when the sitter is on the way, nor within visitAfter of the last,
// when what was poured is not settled yet.
const (
	visitNear  = 12 * time.Hour
	visitAfter = 15 * time.Hour
)

// findSitterWater names the pots that will be under their limit at the next visit if they go on drying as in the last day.
func findSitterWater(st *alerts.Standing, found func(alerts.Finding), set sitterSettings) {
	if !st.Away.On(st.At) {
		return
	}
	last, visit := set.visits(st)
	if visit.IsZero() || visit.Sub(st.At) < visitNear || !last.IsZero() && st.At.Sub(last) < visitAfter {
		return
	}
	for i := range st.Pots {
		p := &st.Pots[i]
		if p.Regime == nil || !p.WetnessOK || !fresh(st.At, p.WetnessAt) {
			continue
		}
		cell := p.Regime.Cell(p.Phase)
		if !cell.Speak[garden.TooDry] || cell.Light || p.Phase == garden.Rest {
			continue
		}
		days := visit.Sub(st.At).Hours() / 24
		then := float64(p.Wetness) * math.Exp(-p.Falling*days)
		if then >= float64(cell.Low) {
			continue
		}
		found(alerts.Finding{Subject: p.Pot.ID, Pots: with(p), Ripe: 1, Level: 1,
			Facts: alerts.Facts{Amount: doseAt(p, cell, cell.Low), Wet: p.Wetness, From: st.At, Until: visit}})
	}
}

// with is a pot and those it speaks for.
func with(p *alerts.PotStanding) []string {
	all := append([]string{p.Pot.ID}, p.Pot.Faster...)
	return append(all, p.Pot.Relatives...)
}
