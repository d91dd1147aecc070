package rules

import (
	"time"

	"lathwatch/alerts"
	"lathwatch/alerts/sheet"
	"lathwatch/sensors/table"
)

func init() {
	add(Entry{Kind: "sitter-sheet", Doc: "when the keeper goes away the sitter is sent the sheet: by place, in walking order, how much, what never to do, what is worth a call (growers' habit)",
		Example: "[rule.sitter-sheet]\n", Build: buildSitterSheet})
}

// The sheet goes out from a day before the absence on, and no later than two days into it: after that it would find the pots otherwise.
const (
	sheetBefore = 24 * time.Hour
	sheetAfter  = 48 * time.Hour
)

func buildSitterSheet(raw table.Raw) (alerts.Rule, error) {
	_, err := settings(raw, noSettings{})
	return alerts.Rule{Kind: "sitter-sheet", Rank: alerts.Week, Errand: true,
		Find: func(st *alerts.Standing, found func(alerts.Finding)) {
			if a := st.Away; !a.Since.IsZero() && len(st.Pots) > 0 && st.At.Before(a.Until) && a.Since.Sub(st.At) <= sheetBefore && st.At.Sub(a.Since) < sheetAfter {
				last := st.Cal.DateOf(a.Until.Add(-time.Second)) // another last day is another sheet
				found(alerts.Finding{Subject: "away-" + last.String(), Ripe: 1, Level: 1, Facts: alerts.Facts{From: a.Since, Until: a.Until}})
			}
		}, Say: sheet.Say}, err
}
