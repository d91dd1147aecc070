package garden

import "time"

// Sitter is what was agreed with whoever looks after the pots while the keeper is away.
type Sitter struct {
	First Date          // days from leaving to the first visit
	Every Date          // days between visits
	Hour  time.Duration // after midnight
	Phone string        // whom to call; "" leaves a line to fill in
}

// Visits are the days agreed for an absence from one day to another, the last one included.
func (s Sitter) Visits(from, until Date) []Date {
	var days []Date
	for d := from + s.First; d <= until; d += max(s.Every, 1) {
		days = append(days, d)
	}
	return days
}
