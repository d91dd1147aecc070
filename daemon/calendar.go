package daemon

import (
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"time"

	"lathwatch/daemon/journal"
	"lathwatch/dashboards/ical"
)

// calendarSecrets keeps digests of calendar addresses beside the page's sessions; the digests are of another kind, so that neither
// can serve for the other.
type calendarSecrets struct{ j *journal.Journal }

// calendarHolds is how long an address holds.
const calendarHolds = 10 * 365 * 24 * time.Hour

// calendarMark names the mark that counts revocations: a digest is kept under the number in force, older ones hold no longer.
const calendarMark = "calendar addresses"

// label ties a digest to the number in force.
func (s calendarSecrets) label(ctx context.Context, digest [32]byte) (string, error) {
	n, _, err := s.j.Mark(ctx, calendarMark)
	return fmt.Sprintf("calendar-%d-%s", n, hex.EncodeToString(digest[:])), err
}

// Holds reports whether an address with this digest is in force.
func (s calendarSecrets) Holds(ctx context.Context, digest [32]byte) (bool, error) {
	name, err := s.label(ctx, digest)
	if err != nil {
		return false, err
	}
	until, ok, err := s.j.Session(ctx, name)
	return ok && !until.IsZero(), err
}

// Calendar serves the feed at its secret addresses.
func (d *Daemon) Calendar() http.Handler {
	return ical.Handler(calendarSecrets{d.journal}, d.calendarFeed)
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
	ctx, secrets := r.Context(), calendarSecrets{d.journal}
	if wish.Revoke {
		n, _, err := d.journal.Mark(ctx, calendarMark)
		if err == nil {
			err = d.journal.SetMark(ctx, calendarMark, n+1)
		}
		if err != nil {
			return nil, fmt.Errorf("revoking the calendar's addresses: %w", err)
		}
	}
	var a CalendarAnswer
	if wish.New {
		secret, digest := ical.NewSecret()
		name, err := secrets.label(ctx, digest)
		if err == nil {
			err = d.journal.SetSession(ctx, name, d.cfg.Now().Add(calendarHolds), "calendar")
		}
		if err != nil {
			return nil, fmt.Errorf("keeping the calendar's address: %w", err)
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
