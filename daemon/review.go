package daemon

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon/config"
	"lathwatch/daemon/journal"
	"lathwatch/dashboards/review"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// A Reviewing walks recorded entries and gathers seasons from the walk: the same walk a start and a rehearsal take.
type Reviewing struct {
	Garden  *garden.Garden // used for the whole span; nil: the gardens among the entries
	Entries sensors.Entries
	Undone  map[string]bool
	Seasons []int
	Passed  func(time.Time) // told how far the walk has come; may be nil
}

// Run gives the seasons' winters, in the order asked for; seasons without a round are left out.
func (r Reviewing) Run() ([]*review.Winter, error) {
	gather := make([]*review.Collector, len(r.Seasons))
	for i, s := range r.Seasons {
		gather[i] = &review.Collector{Season: s}
	}
	var now sensors.Entry
	var caused []alerts.Change
	walk := Rehearsal{Garden: r.Garden, Undone: r.Undone, Changed: func(cs []alerts.Change) error { caused = cs; return nil },
		Entries: func(yield func(sensors.Entry, error) bool) {
			for e, err := range r.Entries {
				if now = e; !yield(e, err) {
					return
				}
			}
		},
		After: func(at time.Time, w *Walk) {
			for _, c := range gather {
				show(c, w, now, caused)
			}
			if r.Passed != nil {
				r.Passed(at)
			}
		}}
	if _, err := walk.Run(); err != nil {
		return nil, err
	}
	var out []*review.Winter
	for _, c := range gather {
		if w := c.Winter(); w != nil {
			out = append(out, w)
		}
	}
	return out, nil
}

func show(c *review.Collector, w *Walk, e sensors.Entry, caused []alerts.Change) {
	st := w.fold.Live()
	switch {
	case st.Garden == nil:
	case e.Note != nil && !w.undone[e.Note.ID] && e.Note.What != sensors.Undo:
		c.Note(st, e.Note, w.fold.Subjects(e.Note.Subject))
	case e.Round != nil:
		c.Round(st)
		c.Changed(st, caused)
	}
}

// A Reviewed is one winter with every other kept, oldest first.
type Reviewed struct {
	Winter *review.Winter
	Others []*review.Winter
}

// ErrNoSeason says that a season has no round on record.
var ErrNoSeason = review.ErrNone

// ReviewJournal works out a season from a journal, and the briefs of every other one in it: those on record are read, others are
// walked. Season 0 is the newest. passed is told how far the walk has come; it may be nil.
func ReviewJournal(ctx context.Context, j *journal.Journal, season int, passed func(time.Time)) (*Reviewed, error) {
	cal, seasons, err := seasonsOf(ctx, j)
	if err != nil {
		return nil, err
	}
	if season == 0 && len(seasons) > 0 {
		season = seasons[len(seasons)-1]
	}
	if !slices.Contains(seasons, season) {
		return nil, fmt.Errorf("%w: season %d (on record: %v)", ErrNoSeason, season, seasons)
	}
	r := &Reviewed{}
	for _, s := range seasons {
		w, err := kept(ctx, j, cal, s)
		if err != nil {
			return nil, err
		}
		if w == nil || s == season {
			if w, err = reviewOne(ctx, j, cal, s, passed); err != nil {
				return nil, err
			}
		}
		switch {
		case w == nil:
		case s == season:
			r.Winter = w
		default:
			r.Others = append(r.Others, w.Brief())
		}
	}
	if r.Winter == nil {
		return nil, fmt.Errorf("%w: season %d", ErrNoSeason, season)
	}
	return r, nil
}

// reviewOne walks one season and the 60 days before it.
func reviewOne(ctx context.Context, j *journal.Journal, cal garden.Calendar, season int, passed func(time.Time)) (*review.Winter, error) {
	from, until := cal.Start(cal.SeasonStart(season)).Add(-lead), cal.Start(cal.SeasonStart(season+1))
	entries, undone, err := Recorded(ctx, j, from, until)
	if err != nil {
		return nil, err
	}
	ws, err := Reviewing{Entries: entries, Undone: undone, Seasons: []int{season}, Passed: passed}.Run()
	if err != nil || len(ws) == 0 {
		return nil, err
	}
	return ws[0], nil
}

// seasonsOf lists the seasons a journal holds rounds of, oldest first, by the calendar of its newest garden.
func seasonsOf(ctx context.Context, j *journal.Journal) (cal garden.Calendar, seasons []int, err error) {
	newest, err := j.Newest(ctx)
	if err != nil {
		return cal, nil, err
	}
	if newest.IsZero() {
		return cal, nil, fmt.Errorf("%w: the journal is empty", ErrNoSeason)
	}
	if cal, err = calendarAt(ctx, j, newest); err != nil {
		return cal, nil, err
	}
	for e, err := range j.Entries(ctx, time.Time{}, time.Time{}) {
		if err != nil {
			return cal, nil, err
		}
		if e.Round == nil {
			continue
		}
		last := cal.Season(cal.DateOf(newest))
		for s := cal.Season(cal.DateOf(e.At)); s <= last; s++ {
			seasons = append(seasons, s)
		}
		break
	}
	return cal, seasons, nil
}

func calendarAt(ctx context.Context, j *journal.Journal, at time.Time) (garden.Calendar, error) {
	text, _, err := j.GardenAt(ctx, at)
	if err != nil {
		return garden.Calendar{}, err
	}
	if text == "" {
		return garden.Calendar{}, errors.New("no garden is on record in the journal")
	}
	g, err := config.Parse("garden.toml", []byte(text))
	if err != nil {
		return garden.Calendar{}, fmt.Errorf("garden on record: %w", err)
	}
	south, _ := g.Site.South()
	return garden.Calendar{Zone: g.Site.Zone, South: south}, nil
}
