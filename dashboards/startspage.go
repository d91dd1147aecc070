package dashboards

import (
	"context"
	"time"

	"lathwatch/sensors/garden"
)

// Starts reads the book of starts: at most n, newest first.
type Starts interface {
	Starts(ctx context.Context, n int) ([]Start, error)
}

// A Start is one start of the program and, in words, how that run ended.
type Start struct {
	At      time.Time
	Version string
	Ended   time.Time // zero while it runs
	Ending  string
}

// startsShown is how many starts the page shows.
const startsShown = 12

// startsSection is the book of starts; without a table where there is none.
func (p *Pages) startsSection(ctx context.Context, site garden.Site) (section, error) {
	if p.cfg.Starts == nil {
		return section{}, nil
	}
	all, err := p.cfg.Starts.Starts(ctx, startsShown)
	if err != nil || len(all) == 0 {
		return section{}, err
	}
	when := func(t time.Time) string {
		if site.Zone != nil {
			t = t.In(site.Zone)
		}
		return t.Format("2 Jan 2006 15:04")
	}
	s := section{ID: "starts", Title: "Starts of the program", Table: &tableView{Head: []string{"Started", "Version", "Ended", "How"}}}
	for _, st := range all {
		row := cells(when(st.At), st.Version, "–", "still runs")
		if st.Ending != "" {
			row[2].Text, row[3].Text = when(st.Ended), st.Ending
		}
		s.Table.Rows = append(s.Table.Rows, row)
	}
	return s, nil
}
