package rules

import (
	"math"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// sitterSettings are the hours in which the sitter may be asked; the visits agreed stand in the garden file's own block.
type sitterSettings struct {
	From  units.Span `toml:"from" help:"earliest time of day to send"`
	Until units.Span `toml:"until" help:"latest time of day to send"`
}

func init() {
	add(Entry{Kind: "sitter-water", Doc: "while the keeper is away the sitter is asked for one visit more when a pot will fall under its limit before the next one agreed (own reckoning on the last day's drying)",
		Example: "[rule.sitter-water]\nfrom = \"9 h\"\nuntil = \"20 h\"\n", Build: buildSitterWater})
}

func buildSitterWater(raw table.Raw) (alerts.Rule, error) {
	const h = units.Span(time.Hour)
	set, err := settings(raw, sitterSettings{From: 9 * h, Until: 20 * h})
	return alerts.Rule{Kind: "sitter-water", Rank: alerts.Week, Linger: 24 * time.Hour, Together: true, Sitter: true,
		From: clock(set.From), Until: clock(set.Until),
		Find: func(st *alerts.Standing, found func(alerts.Finding)) { findSitterWater(st, found) },
		Say:  alerts.SaySitterWater}, err
}

func clock(s units.Span) alerts.Clock { return alerts.Clock(s.Duration() / time.Minute) }

// visits are the last visit agreed before an instant and the next one after it; zero where there is none while the keeper is away.
func visits(st *alerts.Standing) (last, next time.Time) {
	agreed := st.Garden.Sitter
	for _, d := range agreed.Visits(st.Cal.DateOf(st.Away.Since), st.Cal.DateOf(st.Away.Until.Add(-time.Second))) {
		y, m, day := d.Civil()
		v := time.Date(y, m, day, 0, int(agreed.Hour/time.Minute), 0, 0, st.Cal.Zone)
		if v.After(st.At) {
			return last, v
		}
		last = v
	}
	return last, time.Time{}
}

// A visit is not called for within visitNear before the next one, when the sitter is on the way, nor within visitAfter of the last,
// when what was poured is not settled yet.
const (
	visitNear  = 12 * time.Hour
	visitAfter = 15 * time.Hour
)

// findSitterWater names the pots that will be under their limit at the next visit if they go on drying as in the last day.
func findSitterWater(st *alerts.Standing, found func(alerts.Finding)) {
	if !st.Away.On(st.At) {
		return
	}
	last, visit := visits(st)
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
		facts := alerts.Facts{Amount: doseAt(p, cell, cell.Low), Wet: p.Wetness, From: st.At, Until: visit}
		if p.Contact.After(st.Away.Since) {
			facts.Poured = p.Contact
		}
		found(alerts.Finding{Subject: p.Pot.ID, Pots: with(p), Ripe: 1, Level: 1, Facts: facts})
	}
}

// with is a pot and those it speaks for.
func with(p *alerts.PotStanding) []string {
	all := append([]string{p.Pot.ID}, p.Pot.Faster...)
	return append(all, p.Pot.Relatives...)
}
