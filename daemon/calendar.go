package daemon

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"time"

	"lathwatch/dashboards/ical"
)

// calendarHolds is how long an address holds.
const calendarHolds = 10 * 365 * 24 * time.Hour

// Calendar serves the feed at its secret addresses.
func (d *Daemon) Calendar() http.Handler {
	return ical.Handler(d.addresses("calendar"), d.calendarFeed)
}

func (d *Daemon) calendarFeed(ctx context.Context) (ical.Feed, error) {
	return ical.Of(ctx, d.Standing(), d.journal)
}

// calendarWish is what the calendar command asks.
type calendarWish struct {
	New    bool `json:"new"`
	Revoke bool `json:"revoke"`
}

// CalendarAnswer is the feed's text and, when a new address was asked for, its path.
type CalendarAnswer struct {
	Path string `json:"path,omitempty"`
	Text string `json:"text"`
}

func (d *Daemon) askCalendar(r *http.Request) (any, error) {
	var wish calendarWish
	if err := json.NewDecoder(io.LimitReader(r.Body, 4096)).Decode(&wish); err != nil {
		return nil, fmt.Errorf("reading what is asked of the calendar: %w", err)
	}
	ctx, doors := r.Context(), d.addresses("calendar")
	if wish.Revoke {
		if err := doors.revoke(ctx); err != nil {
			return nil, err
		}
	}
	var a CalendarAnswer
	if wish.New {
		secret, err := doors.fresh(ctx, d.cfg.Now().Add(calendarHolds))
		if err != nil {
			return nil, err
		}
		a.Path = ical.Path + secret + ".ics"
	}
	f, err := d.calendarFeed(ctx)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = f.Write(&b)
	a.Text = b.String()
	return a, err
}

// Calendar asks the daemon for the feed, for a new address, or to revoke all there are.
func (c *Client) Calendar(ctx context.Context, fresh, revoke bool) (a CalendarAnswer, err error) {
	body, err := json.Marshal(calendarWish{fresh, revoke})
	if err != nil {
		return a, err
	}
	return a, c.ask(ctx, http.MethodPost, "/calendar", body, &a)
}
