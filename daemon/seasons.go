package daemon

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"runtime"
	"runtime/debug"
	"slices"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon/journal"
	"lathwatch/sensors"
)

// taughtRow names the season rows that hold what a season taught.
const taughtRow = "taught"

// lasting are the notes whose effect outlives a season: where a pot stands, how it is read, what it is.
var lasting = []sensors.What{sensors.Moved, sensors.Regime, sensors.Marks, sensors.Repotted, sensors.Divided, sensors.Lost, sensors.Weighed}

// startWith brings a walk to where a start begins: the garden in force then, the lasting notes from before, and what earlier
// seasons taught. notes are all on record, in order.
func (w *Walk) startWith(ctx context.Context, j *journal.Journal, at time.Time, notes []sensors.Note) error {
	text, from, err := j.GardenAt(ctx, at)
	if err != nil || text == "" {
		return err
	}
	if _, err = w.Take(sensors.Entry{At: from, Garden: &sensors.GardenText{Text: text}}); err != nil {
		return err
	}
	for i := range notes {
		if n := &notes[i]; n.At.Before(at) && slices.Contains(lasting, n.What) {
			if _, err := w.Take(sensors.Entry{At: n.At, Note: n}); err != nil {
				return err
			}
		}
	}
	rows, err := taughtBefore(ctx, j, w.fold.Live().Cal.Season(w.fold.Live().Cal.DateOf(at)))
	w.Teach(rows)
	return err
}

// taughtBefore reads what seasons up to one taught, in order. Rows of another version of the formulae are passed over: rehearse
// --relearn writes them anew.
func taughtBefore(ctx context.Context, j *journal.Journal, season int) ([]alerts.Taught, error) {
	all, err := j.Seasons(ctx)
	if err != nil {
		return nil, fmt.Errorf("reading what earlier seasons taught: %w", err)
	}
	var rows []alerts.Taught
	for _, r := range all {
		if r.Name != taughtRow || r.Version != alerts.TaughtVersion || r.Season > season {
			continue
		}
		var t alerts.Taught
		if err := json.Unmarshal(r.Data, &t); err != nil {
			return nil, fmt.Errorf("reading what season %d taught: %w", r.Season, err)
		}
		rows = append(rows, t)
	}
	return rows, nil
}

func keepTaught(ctx context.Context, j *journal.Journal, t alerts.Taught) error {
	data, err := json.Marshal(t)
	if err != nil {
		return err
	}
	return j.SetSeason(ctx, journal.SeasonRow{Season: t.Season, Name: taughtRow, Version: alerts.TaughtVersion, Data: data})
}

// learn writes down what seasons taught that closed just now.
func (d *Daemon) learn(ctx context.Context, taught []alerts.Taught) {
	for _, t := range taught {
		if err := keepTaught(ctx, d.journal, t); err != nil {
			d.cfg.Log.Error("writing down what a season taught", "season", t.Season, "err", err)
		}
	}
}

// Relearn walks everything a journal holds and writes anew what each season taught. It gives the seasons.
func Relearn(ctx context.Context, j *journal.Journal) (seasons []int, err error) {
	taught, _, err := taughtAnew(ctx, j)
	if err != nil {
		return nil, err
	}
	return replaceTaught(ctx, j, taught)
}

// taughtAnew walks everything a journal holds, which may take minutes; the journal takes rounds meanwhile.
func taughtAnew(ctx context.Context, j *journal.Journal) (taught []alerts.Taught, rounds int64, err error) {
	entries, undone, err := Recorded(ctx, j, time.Time{}, time.Time{})
	if err != nil {
		return nil, 0, err
	}
	r := Rehearsal{Entries: entries, Undone: undone, After: func(_ time.Time, w *Walk) {
		taught = append(taught, w.Fresh()...)
		runtime.Gosched() // a round that is to be kept goes first
	}}
	w, err := r.Run()
	return taught, w.Rounds(), err
}

// replaceTaught writes down what seasons taught in place of what is on record. A season that closed since they were walked stays.
func replaceTaught(ctx context.Context, j *journal.Journal, taught []alerts.Taught) (seasons []int, err error) {
	before, err := taughtBefore(ctx, j, math.MaxInt)
	if err != nil {
		return nil, err
	}
	for _, t := range before {
		if len(taught) > 0 && t.Season > taught[len(taught)-1].Season {
			taught = append(taught, t)
		}
	}
	if err := j.ForgetSeasons(ctx, 0); err != nil {
		return nil, err
	}
	for _, t := range taught {
		if err := keepTaught(ctx, j, t); err != nil {
			return seasons, err
		}
		seasons = append(seasons, t.Season)
	}
	return seasons, nil
}

// Relearn asks the daemon to learn every season anew.
func (c *Client) Relearn(ctx context.Context) (seasons []int, err error) {
	return seasons, c.ask(ctx, http.MethodPost, "/relearn", nil, &seasons)
}

// askRelearn walks beside the walker, which goes on with its rounds; only the writing down waits for its turn.
func (d *Daemon) askRelearn(r *http.Request) (any, error) {
	if !d.relearning.TryLock() {
		return nil, errors.New("everything on record is being walked already")
	}
	defer d.relearning.Unlock()
	defer debug.FreeOSMemory() // ten years passed through; a small board has other uses for the room
	taught, _, err := taughtAnew(r.Context(), d.journal)
	if err != nil {
		return nil, err
	}
	seasons := []int{}
	var failed error
	err = d.do(r.Context(), func() {
		if seasons, failed = replaceTaught(r.Context(), d.journal, taught); failed == nil {
			d.refold(r.Context())
		}
	})
	return seasons, cmp.Or(err, failed)
}

// lead is how much of the past before a season is walked with it.
const lead = alerts.TeachingLead * 24 * time.Hour
