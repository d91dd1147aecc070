package dashboards

import (
	"fmt"

	"lathwatch/alerts"
	"lathwatch/dashboards/ledger"
)

// feedSection is what a pot is to be given, what it was given this season, and when that stops.
func (b *bench) feedSection(ps *alerts.PotStanding) section {
	plan := ledger.PlanOf(b.st.Garden)
	f := plan.FedNow(b.st, ps)
	s := section{ID: "feeding", Title: "Feeding", Say: ledger.Caution}
	rate, _ := plan.Rate()
	dose := fact{Name: "Granules, the dose", Value: number(rate, 1) + nbsp + "g for each litre of pot", Say: doseWhy(plan)}
	if grams, ok := plan.Feeding.Dose(ps.Pot.Litres); ok {
		dose.Value = number(grams, 1) + nbsp + "g for " + ps.Pot.Litres.String()
	}
	given := fact{Name: "Granules given", Value: "not noted this season"}
	if !ps.Dressed.IsZero() {
		given.Value = b.day(ps.Dressed)
		if ps.DressedG > 0 {
			given.Value = number(ps.DressedG, 1) + nbsp + "g, " + given.Value
		}
	}
	s.Facts = append(s.Facts, dose, given)
	if ps.FeedReleased.OK {
		r := ps.FeedReleased
		s.Facts = append(s.Facts, fact{Name: "Given off so far", Value: rangeWords(percent(int64(1000*r.Low)), percent(int64(1000*r.High))), Say: "by the pot's own warmth"})
	}
	soak := fact{Name: "First soak", Value: "not noted", Say: plan.SoakWords(ps.Pot) + feedGuess(plan)}
	if f.Soaked != 0 {
		soak.Value = "done, " + b.plainDate(f.Soaked)
	}
	nitrogen := fact{Name: "Nitrogen this season", Value: f.NWords() + " a litre of pot", Say: fmt.Sprintf("granules %.0f, liquid %.0f", f.Granules[0], f.Liquid)}
	if f.Assumed {
		nitrogen.Say += "; amounts that were not noted are the plan's"
	}
	s.Facts = append(s.Facts, soak, nitrogen, b.feedsDone(ps, f), b.feedStop(f))
	return s
}

func rangeWords(low, high string) string {
	if low == high {
		return low
	}
	return low + " to " + high
}

func doseWhy(p ledger.Plan) string {
	rate, held := p.Rate()
	switch {
	case held:
		return "the label's most, " + number(rate, 1) + nbsp + "g a litre"
	case p.Granules > 0:
		return number(rate, 1) + nbsp + "g a litre, as you set it"
	}
	return number(rate, 1) + nbsp + "g a litre: a guess, a third to half of a nursery's rate"
}

func feedGuess(p ledger.Plan) string {
	if p.Soak == 0 || p.Liquid == 0 {
		return " (a guess)"
	}
	return ""
}

func (b *bench) feedsDone(ps *alerts.PotStanding, f ledger.Fed) fact {
	v := fact{Name: "Liquid feeds", Value: fmt.Sprintf("%d given, %d due so far", f.Feeds, f.Due), Say: fmt.Sprintf("one every %d days from opening on", f.Every)}
	if f.Planned > 0 {
		v.Value += fmt.Sprintf(", %d planned", f.Planned)
	}
	if !ps.Fed.IsZero() {
		v.Say += "; the last " + b.day(ps.Fed)
	}
	if f.AfterStop > 0 {
		v.Say += fmt.Sprintf("; %d after the stop", f.AfterStop)
	}
	return v
}

func (b *bench) feedStop(f ledger.Fed) fact {
	v := fact{Name: "Liquid feed stops", Value: "with " + b.plainDate(f.Stop-1), Say: "or at the flower, where the plan stops there"}
	switch {
	case f.ByFlower:
		v.Value, v.Say = "stopped, "+b.plainDate(f.Stop), "at its flower: rain water from then on"
	case b.st.Day >= f.Stop:
		v.Value, v.Say = "stopped, "+b.plainDate(f.Stop-1), "the season's last feeding day"
	}
	return v
}

// plantFeeding is each pot's dose and what it was given this season.
func (b *bench) plantFeeding(plant string) section {
	plan := ledger.PlanOf(b.st.Garden)
	s := section{ID: "feeding", Title: "Feeding this season", Say: ledger.Caution, Table: &tableView{Head: []string{"Pot", "Granules, the dose", "Granules given", "First soak", "Liquid feeds", "Nitrogen a litre", "Stops"}}}
	for i := range b.st.Pots {
		ps := &b.st.Pots[i]
		if ps.Pot.Plant != plant || !ps.Gone.IsZero() {
			continue
		}
		f := plan.FedNow(b.st, ps)
		dose, given, soak := "write its volume down", "–", "–"
		if grams, ok := plan.Feeding.Dose(ps.Pot.Litres); ok {
			dose = number(grams, 1) + nbsp + "g"
		}
		if f.Dressed != 0 {
			given = b.plainDate(f.Dressed)
		}
		if f.Soaked != 0 {
			soak = b.plainDate(f.Soaked)
		}
		feeds := fmt.Sprintf("%d of %d due", f.Feeds, f.Due)
		s.Table.Rows = append(s.Table.Rows, []cell{{ps.Pot.ID, "/pot/" + ps.Pot.ID}, {Text: dose}, {Text: given}, {Text: soak}, {Text: feeds}, {Text: f.NWords()}, {Text: b.feedStop(f).Value}})
	}
	if len(s.Table.Rows) == 0 {
		s.Table, s.Say = nil, "No pot of it is here."
	}
	return s
}
