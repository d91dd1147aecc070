package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"

	"lathwatch/alerts"
	"lathwatch/daemon/journal"
	"lathwatch/dashboards/sitter"
)

func (d *Daemon) askSitter(r *http.Request) (any, error) {
	var a sitter.Ask
	if err := json.NewDecoder(io.LimitReader(r.Body, 16<<10)).Decode(&a); err != nil {
		return nil, fmt.Errorf("reading what the sheet is wanted for: %w", err)
	}
	return makeSheet(d.Standing(), a)
}

func makeSheet(st *alerts.Standing, a sitter.Ask) (*sitter.Sheet, error) {
	if st == nil || st.Garden == nil || len(st.Pots) == 0 {
		return nil, errors.New("there is no garden to make a sheet of yet")
	}
	if a.Until < a.From {
		return nil, errors.New("the last day away lies before the first")
	}
	if a.Until-a.From > 120 {
		return nil, errors.New("a sheet is for four months at most")
	}
	return sitter.Make(st, a), nil
}

// Sitter asks the daemon for a sitter's sheet.
func (c *Client) Sitter(ctx context.Context, a sitter.Ask) (*sitter.Sheet, error) {
	body, err := json.Marshal(a)
	if err != nil {
		return nil, err
	}
	var s sitter.Sheet
	if err := c.ask(ctx, http.MethodPost, "/sitter", body, &s); err != nil {
		return nil, err
	}
	return &s, nil
}

// StandingOf walks the newest season of a journal that nobody holds to its end.
func StandingOf(ctx context.Context, j *journal.Journal) (*alerts.Standing, error) {
	newest, err := j.Newest(ctx)
	if err != nil {
		return nil, err
	}
	cal, err := calendarAt(ctx, j, newest)
	if err != nil {
		return nil, err
	}
	from := cal.Start(cal.SeasonStart(cal.Season(cal.DateOf(newest)))).Add(-lead)
	r := Rehearsal{}
	if r.Entries, r.Undone, err = Recorded(ctx, j, from, newest.Add(1)); err != nil {
		return nil, err
	}
	w, err := r.Run()
	if err != nil {
		return nil, err
	}
	return w.Standing(), nil
}

// SheetOf makes a sitter's sheet from a journal that nobody holds.
func SheetOf(ctx context.Context, j *journal.Journal, a sitter.Ask) (*sitter.Sheet, error) {
	st, err := StandingOf(ctx, j)
	if err != nil {
		return nil, err
	}
	return makeSheet(st, a)
}
