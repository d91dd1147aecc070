package daemon_test

import (
	"errors"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"lathwatch/alerts"
	"lathwatch/daemon"
	"lathwatch/daemon/journal"
	"lathwatch/dashboards/review"
	"lathwatch/sensors"
	"lathwatch/sensors/model"
	"lathwatch/sensors/tape"
)

// written puts entries into a journal as a daemon would have.
func written(t *testing.T, dir string, all []sensors.Entry) {
	t.Helper()
	j, err := journal.Open(filepath.Join(dir, "lathwatch.journal"), journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	ctx := t.Context()
	if err := j.AddGarden(ctx, all[0].At.Add(-time.Hour), model.Demo); err != nil {
		t.Fatal(err)
	}
	var kept []journal.Kept
	for _, e := range all {
		if e.Round != nil {
			kept = append(kept, journal.Kept{Round: *e.Round})
			continue
		}
		n, err := tape.Checked(*e.Note)
		if err == nil {
			err = j.AddNote(ctx, n, nil)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := j.KeepAll(ctx, kept); err != nil {
		t.Fatal(err)
	}
}

// A closed season is worked out once and kept; a back-dated note makes what is kept void; the review through the daemon is the review
// of the same entries.
func TestAClosedSeasonIsKeptUntilItsPastChanges(t *testing.T) {
	g, all := demoWinters(t, 3*time.Hour, time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC), time.Date(2027, 10, 10, 0, 0, 0, 0, time.UTC))
	dir := t.TempDir()
	written(t, dir, all)
	now := time.Date(2027, 10, 10, 0, 0, 0, 0, time.UTC)
	d, err := daemon.New(t.Context(), daemon.Config{GardenPath: "the demo's garden", GardenText: model.Demo, StateDir: dir, Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	r, err := d.Review(t.Context(), 2027)
	if err != nil {
		t.Fatal(err)
	}
	ws, err := daemon.Reviewing{Garden: g, Entries: inOrder(all), Seasons: []int{2027}}.Run()
	if err != nil {
		t.Fatal(err)
	}
	same := cmp.Options{cmpopts.IgnoreUnexported(review.Message{}, review.PotDay{}), cmpopts.EquateEmpty()}
	if d := cmp.Diff(ws[0], r.Winter, same); d != "" {
		t.Errorf("the journal tells another winter than the entries: %s", d)
	}
	rows, err := d.Journal().Seasons(t.Context())
	if err != nil || len(rowsNamed(rows, "winter")) != 1 {
		t.Fatal(err, rows)
	}
	before := string(rowsNamed(rows, "winter")[0].Data)

	next, err := d.Review(t.Context(), 2028) // the season under way, beside the one kept
	if err != nil || len(next.Others) != 1 || next.Others[0].Season != 2027 {
		t.Fatal(err)
	}
	n, err := tape.Checked(sensors.Note{At: time.Date(2027, 6, 1, 9, 0, 0, 0, time.UTC), Subject: "D7", What: sensors.Shoots, Detail: "9"})
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Journal().AddNote(t.Context(), n, []alerts.Change{}); err != nil {
		t.Fatal(err)
	}
	if next, err = d.Review(t.Context(), 2028); err != nil {
		t.Fatal(err)
	}
	if p := next.Others[0].Pot("D7"); p.Shoots != 9 {
		t.Errorf("the kept season does not know the late note: %d shoots", p.Shoots)
	}
	if rows, err = d.Journal().Seasons(t.Context()); err != nil || string(rowsNamed(rows, "winter")[0].Data) == before {
		t.Error("what is kept did not change", err)
	}
	if _, err := d.Review(t.Context(), 2019); !errors.Is(err, daemon.ErrNoSeason) {
		t.Error(err)
	}
}

func rowsNamed(rows []journal.SeasonRow, name string) (out []journal.SeasonRow) {
	for _, r := range rows {
		if r.Name == name {
			out = append(out, r)
		}
	}
	return out
}
