package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"time"

	"lathwatch/alerts"
	"lathwatch/alerts/sheet"
	"lathwatch/daemon/journal"
	"lathwatch/dashboards/sitter"
)

// SitterWish is what the sitter command asks: a sheet, of the absence on record where no days are given, and changes of the addresses
// at which the sitter ticks.
type SitterWish struct {
	sheet.Ask
	New    bool `json:"new"`
	Revoke bool `json:"revoke"`
}

// SitterAnswer is the sheet, nil where only addresses were changed, and the path of a new address.
type SitterAnswer struct {
	Sheet *sheet.Sheet `json:"sheet,omitempty"`
	Path  string       `json:"path,omitempty"`
}

// sittingHolds is how long an address to tick at holds: as long as a sheet may be for, and a month ahead of it.
const sittingHolds = 150 * 24 * time.Hour

func (d *Daemon) askSitter(r *http.Request) (any, error) {
	var wish SitterWish
	if err := json.NewDecoder(io.LimitReader(r.Body, 16<<10)).Decode(&wish); err != nil {
		return nil, fmt.Errorf("reading what the sheet is wanted for: %w", err)
	}
	var a SitterAnswer
	ctx, doors := r.Context(), d.addresses("sitting")
	if wish.Revoke {
		if err := doors.revoke(ctx); err != nil {
			return nil, err
		}
	}
	if wish.New {
		secret, err := doors.fresh(ctx, d.cfg.Now().Add(sittingHolds))
		if err != nil {
			return nil, err
		}
		a.Path = sitter.Path + secret
	}
	if (wish.New || wish.Revoke) && wish.From == 0 {
		return a, nil
	}
	var err error
	a.Sheet, err = makeSheet(d.Standing(), wish.Ask)
	return a, err
}

// makeSheet makes a sheet of the days asked for, or of the absence on record.
func makeSheet(st *alerts.Standing, a sheet.Ask) (*sheet.Sheet, error) {
	if st == nil || st.Garden == nil || len(st.Pots) == 0 {
		return nil, errors.New("there is no garden to make a sheet of yet")
	}
	if a.From == 0 && a.Until == 0 {
		if !st.Away.Ahead(st.At) {
			return nil, errors.New("nobody is noted as away: give the first and the last day, or note them (garden away 2027-08-03 2027-08-17)")
		}
		of := sheet.Absence(st)
		a.From, a.Until = of.From, of.Until
	}
	if a.Until < a.From {
		return nil, errors.New("the last day away lies before the first")
	}
	if a.Until-a.From > 120 {
		return nil, errors.New("a sheet is for four months at most")
	}
	return sheet.Make(st, a), nil
}

// Sitter asks the daemon for a sitter's sheet.
func (c *Client) Sitter(ctx context.Context, wish SitterWish) (a SitterAnswer, err error) {
	body, err := json.Marshal(wish)
	if err != nil {
		return a, err
	}
	return a, c.ask(ctx, http.MethodPost, "/sitter", body, &a)
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
func SheetOf(ctx context.Context, j *journal.Journal, a sheet.Ask) (*sheet.Sheet, error) {
	st, err := StandingOf(ctx, j)
	if err != nil {
		return nil, err
	}
	return makeSheet(st, a)
}
