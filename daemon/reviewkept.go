package daemon

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"sync"
	"time"

	"lathwatch/daemon/journal"
	"lathwatch/dashboards/review"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// winterRow is the name under which a closed season's brief is kept in the journal.
const winterRow = "winter"

// A keptWinter is a closed season's brief with what it was worked out from: late data and back-dated notes make it void.
type keptWinter struct {
	Of     string
	Winter *review.Winter
}

// kept reads a season's brief; nil when there is none, it is of another version, or its season has changed since.
func kept(ctx context.Context, j *journal.Journal, cal garden.Calendar, season int) (*review.Winter, error) {
	rows, err := j.Seasons(ctx)
	if err != nil {
		return nil, fmt.Errorf("reading what seasons taught: %w", err)
	}
	for _, r := range rows {
		if r.Season != season || r.Name != winterRow || r.Version != review.Version {
			continue
		}
		var k keptWinter
		if json.Unmarshal(r.Data, &k) != nil {
			return nil, nil // worked out anew
		}
		of, err := basis(ctx, j, cal, season)
		if err != nil || of != k.Of {
			return nil, err
		}
		return k.Winter, nil
	}
	return nil, nil
}

// keepWinter writes a closed season's brief.
func keepWinter(ctx context.Context, j *journal.Journal, cal garden.Calendar, w *review.Winter) error {
	of, err := basis(ctx, j, cal, w.Season)
	if err != nil {
		return err
	}
	data, err := json.Marshal(keptWinter{of, w.Brief()})
	if err != nil {
		return fmt.Errorf("keeping the winter of %d: %w", w.Season, err)
	}
	return j.SetSeason(ctx, journal.SeasonRow{Season: w.Season, Name: winterRow, Version: review.Version, Data: data})
}

// basis digests what may change in a season that is over: its notes and the late readings that fell into it.
func basis(ctx context.Context, j *journal.Journal, cal garden.Calendar, season int) (string, error) {
	from, until := cal.Start(cal.SeasonStart(season)).Add(-lead), cal.Start(cal.SeasonStart(season+1))
	notes, err := j.Notes(ctx, time.Time{}) // an undo may be younger than what it takes back
	if err != nil {
		return "", err
	}
	late, err := j.LateSince(ctx, 0)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	for _, n := range notes {
		if !n.At.Before(from) && n.At.Before(until) || n.What == sensors.Undo {
			fmt.Fprintln(h, n.ID, n.Detail)
		}
	}
	for _, l := range late {
		if l.First.Before(until) && !l.Last.Before(from) {
			fmt.Fprintln(h, l.Seq)
		}
	}
	return hex.EncodeToString(h.Sum(nil)[:8]), nil
}

// reviewing lets one review be worked out at a time: each walks whole seasons.
var reviewing sync.Mutex

// Review works out a season from the daemon's own journal and keeps the briefs of seasons that are over.
func (d *Daemon) Review(ctx context.Context, season int) (*Reviewed, error) {
	reviewing.Lock()
	defer reviewing.Unlock()
	cal, seasons, err := seasonsOf(ctx, d.journal)
	if err != nil {
		return nil, err
	}
	now := cal.Season(cal.DateOf(d.cfg.Now()))
	if err := d.keepClosed(ctx, cal, seasons, season); err != nil {
		return nil, err
	}
	r, err := ReviewJournal(ctx, d.journal, season, nil)
	if err == nil && season < now {
		err = keepWinter(ctx, d.journal, cal, r.Winter)
	}
	return r, err
}

// keepClosed works out and keeps the brief of every season that is over and has none in force, but the one left out.
func (d *Daemon) keepClosed(ctx context.Context, cal garden.Calendar, seasons []int, but int) error {
	now := cal.Season(cal.DateOf(d.cfg.Now()))
	for _, s := range seasons {
		if s == but || s >= now {
			continue
		}
		w, err := kept(ctx, d.journal, cal, s)
		if err != nil {
			return err
		}
		if w != nil {
			continue
		}
		if w, err = reviewOne(ctx, d.journal, cal, s, nil); err == nil && w != nil {
			err = keepWinter(ctx, d.journal, cal, w)
		}
		if err != nil && !errors.Is(err, journal.ErrReadOnly) {
			return err
		}
	}
	return nil
}

// keepSeasons keeps the briefs of seasons that are over, so that the ledger can tell what differed without anybody asking for a
// review first. A season is walked once; after late data or a back-dated note, once more.
func (d *Daemon) keepSeasons(ctx context.Context) {
	reviewing.Lock()
	defer reviewing.Unlock()
	cal, seasons, err := seasonsOf(ctx, d.journal)
	if err == nil {
		err = d.keepClosed(ctx, cal, seasons, 0)
	}
	if err != nil && ctx.Err() == nil && !errors.Is(err, ErrNoSeason) {
		d.cfg.Log.Error("keeping the seasons that are over", "err", err)
	}
}

// ReviewPages serves reviews to whoever may read the pages.
func (d *Daemon) ReviewPages() http.Handler {
	return review.Handler(func(ctx context.Context, season int) (*review.Winter, []*review.Winter, error) {
		r, err := d.Review(ctx, season)
		if err != nil {
			return nil, nil, err
		}
		return r.Winter, r.Others, nil
	})
}

func (d *Daemon) askReview(r *http.Request) (any, error) {
	season := 0
	if s := r.URL.Query().Get("season"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			return nil, fmt.Errorf("season %q is no year", s)
		}
		season = n
	}
	return d.Review(r.Context(), season)
}

// Review asks the daemon for a season; 0 is the newest.
func (c *Client) Review(ctx context.Context, season int) (*Reviewed, error) {
	var r Reviewed
	err := c.ask(ctx, http.MethodGet, "/review?"+url.Values{"season": {strconv.Itoa(season)}}.Encode(), nil, &r)
	if err != nil {
		return nil, err
	}
	return &r, nil
}
