package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
	"lathwatch/daemon/journal"
	"lathwatch/sensors"
	"lathwatch/sensors/model"
	"lathwatch/sensors/tape"
)

// threeSeasons walks an invented garden for three winters in one go, with its keeper, and keeps everything in a journal.
func threeSeasons(t *testing.T, j *journal.Journal) (said []alerts.Change) {
	t.Helper()
	ctx := t.Context()
	start := time.Date(2024, 7, 10, 0, 0, 0, 0, time.UTC)
	g, err := ParseGarden("garden.toml", []byte(model.Demo))
	if err != nil {
		t.Fatal(err)
	}
	if err := j.AddGarden(ctx, start, model.Demo); err != nil {
		t.Fatal(err)
	}
	m := model.New(g, 3, start)
	keeper := m.Keeper()
	w := NewWalk()
	take := func(e sensors.Entry) []alerts.Change {
		c, err := w.Take(e)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	take(sensors.Entry{At: start, Garden: &sensors.GardenText{Text: model.Demo}})
	var kept []journal.Kept
	for at := start; at.Before(start.AddDate(2, 11, 15)); at = at.Add(time.Hour) {
		for _, n := range keeper.Notes(at) {
			n, err := tape.Checked(n)
			if err != nil {
				t.Fatal(err)
			}
			if err := j.AddNote(ctx, n, nil); err != nil {
				t.Fatal(err)
			}
			take(sensors.Entry{At: n.At, Note: &n})
		}
		r := m.Step(at)
		changes := take(sensors.Entry{At: at, Round: &r})
		for _, c := range changes {
			if c.Text != "" && c.To == "" {
				keeper.Hear(c.At, c.Kind, c.Pots)
				said = append(said, c)
			}
		}
		if kept = append(kept, journal.Kept{Round: r, Changes: changes}); len(kept) == 24*14 {
			if err := j.KeepAll(ctx, kept); err != nil {
				t.Fatal(err)
			}
			kept = kept[:0]
		}
		for _, taught := range w.Fresh() {
			if err := keepTaught(ctx, j, taught); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := j.KeepAll(ctx, kept); err != nil {
		t.Fatal(err)
	}
	return said
}

// restartedWalk is a walk as a daemon started at now has it, with the messages of its replay.
func restartedWalk(t *testing.T, j *journal.Journal, now time.Time) (w *Walk, said []alerts.Change) {
	t.Helper()
	ctx := t.Context()
	g, err := ParseGarden("garden.toml", []byte(model.Demo))
	if err != nil {
		t.Fatal(err)
	}
	d := &Daemon{cfg: Config{Now: func() time.Time { return now }}, garden: g}
	notes, err := j.Notes(ctx, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	w = NewWalk()
	if err := w.startWith(ctx, j, d.since(), notes); err != nil {
		t.Fatal(err)
	}
	for e, err := range j.Entries(ctx, d.since(), now) {
		if err != nil {
			t.Fatal(err)
		}
		changes, err := w.Take(e)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range changes {
			if c.Text != "" && c.To == "" {
				said = append(said, c)
			}
		}
	}
	return w, said
}

// Three seasons walked in one go and a start in the last of them, which reads what the first two taught instead of walking
// them, say the same in that season and know the same of every plant.
func TestAStartKnowsWhatThreeSeasonsTaught(t *testing.T) {
	j, err := journal.Open(filepath.Join(t.TempDir(), "three.journal"), journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	said := threeSeasons(t, j)
	now := time.Date(2027, 6, 20, 0, 0, 0, 0, time.UTC)
	w, again := restartedWalk(t, j, now)
	from := time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC) // an alert of the summer before the start's walk is the record's to know: Adopt
	if diff := cmp.Diff(lines(said, from, now), lines(again, from, now)); diff != "" {
		t.Errorf("in one go (-) and from a start (+) differ:\n%s", diff)
	}
	own := 0
	for _, p := range w.Standing().Pots {
		if len(p.Own) > 0 {
			own++
		}
	}
	fitted := 0
	for _, p := range w.Standing().Pots {
		if p.Fit != nil {
			fitted++
			t.Logf("%s: need %.0f °C·d; left out %.1f days, mean date %.1f days", p.Pot.ID, p.Fit.Need, p.Fit.LeftOut, p.Fit.MeanDayLeftOut)
		}
	}
	if fitted < 4 {
		t.Errorf("only %d pots are fitted to their own years", fitted)
	}
	if own < 6 {
		t.Errorf("only %d pots have years of their own", own)
	}
	rows, err := taughtBefore(t.Context(), j, 2100)
	if err != nil || len(rows) != 2 || rows[0].Season != 2025 || rows[1].Season != 2026 {
		t.Fatalf("rows %v, %v", len(rows), err)
	}
	seasons, err := Relearn(context.Background(), j)
	if err != nil || len(seasons) != 2 {
		t.Fatal(seasons, err)
	}
	anew, err := taughtBefore(t.Context(), j, 2100)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(rows, anew); diff != "" {
		t.Errorf("learnt as it went (-) and anew from the journal (+) differ:\n%s", diff)
	}
	besideTheWalker(t, j, now, seasons)
}

// besideTheWalker learns everything anew in a daemon whose walker comes to it only when all is walked: what the walker is then asked
// for is the writing down alone, and a season that closed in between stays.
func besideTheWalker(t *testing.T, j *journal.Journal, now time.Time, want []int) {
	t.Helper()
	g, err := ParseGarden("garden.toml", []byte(model.Demo))
	if err != nil {
		t.Fatal(err)
	}
	d := &Daemon{cfg: Config{Now: func() time.Time { return now }, Log: slog.New(slog.DiscardHandler)}, garden: g, journal: j,
		asks: make(chan func()), trouble: map[string]string{}}
	req := httptest.NewRequestWithContext(t.Context(), "POST", "/relearn", nil)
	answer := make(chan any, 1)
	go func() { // ends with the request
		seasons, err := d.askRelearn(req)
		answer <- cmp.Diff(append(slices.Clone(want), 2027), seasons) + fmt.Sprint(err)
	}()
	write := <-d.asks
	if _, err := d.askRelearn(req); err == nil {
		t.Error("everything is walked twice at once")
	}
	if err := j.Keep(t.Context(), sensors.Round{At: now.AddDate(3, 0, 0)}, nil); err != nil { // a walk from here on would close more seasons
		t.Fatal(err)
	}
	if err := keepTaught(t.Context(), j, alerts.Taught{Season: 2027}); err != nil {
		t.Fatal(err)
	}
	write()
	if got := <-answer; got != "<nil>" {
		t.Errorf("wanted %v and 2027: %v", want, got)
	}
	if rows, err := taughtBefore(t.Context(), j, 2100); err != nil || len(rows) != len(want)+1 {
		t.Errorf("%d rows, %v", len(rows), err)
	}
}

func lines(said []alerts.Change, from, until time.Time) (keys []string) {
	for _, c := range said {
		if !c.At.Before(from) && c.At.Before(until) {
			keys = append(keys, c.Key+" "+c.Text)
		}
	}
	return keys
}
