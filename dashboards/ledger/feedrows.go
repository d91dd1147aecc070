package ledger

import (
	"fmt"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
)

// A FedRow is a pot's feeding this season in the words of a table.
type FedRow struct{ Pot, Dose, Given, Soaked, Liquid, Nitrogen, Last string }

// FedRows lay out this season's feeding as it stands, a row a living pot.
func FedRows(st *alerts.Standing) []FedRow {
	plan := PlanOf(st.Garden)
	var out []FedRow
	for i := range st.Pots {
		ps := &st.Pots[i]
		if !ps.Gone.IsZero() {
			continue
		}
		f := plan.FedNow(st, ps)
		r := FedRow{Pot: ps.Pot.ID, Dose: "write its volume down", Given: shortDate(st.Season, f.Dressed), Soaked: shortDate(st.Season, f.Soaked), Liquid: fmt.Sprintf("%d of %d due", f.Feeds, f.Due), Nitrogen: f.NWords(), Last: shortDate(st.Season, f.Stop-1)}
		if grams, ok := plan.Feeding.Dose(ps.Pot.Litres); ok {
			r.Dose = fmt.Sprintf("%.1f\u00a0g", grams)
		}
		if f.ByFlower {
			r.Last += ", the flower"
		}
		out = append(out, r)
	}
	return out
}

// How says by what rate the doses are reckoned.
func (p Plan) How() string {
	rate, _ := p.Rate()
	return fmt.Sprintf("Granules at %g g for each litre of pot (%s). Where an amount was not noted the plan's is reckoned. %s", rate, p.why(), Caution)
}

// shortDate writes a date of the season's year without it: "16 Apr", "13 Oct 2026"; a dash for none.
func shortDate(season int, d garden.Date) string {
	if d == 0 {
		return "–"
	}
	y, m, n := d.Civil()
	if y == season {
		return fmt.Sprintf("%d\u00a0%s", n, m.String()[:3])
	}
	return fmt.Sprintf("%d\u00a0%s\u00a0%d", n, m.String()[:3], y)
}
