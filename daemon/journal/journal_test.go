package journal

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"modernc.org/sqlite"

	"lathwatch/alerts"
	"lathwatch/sensors"
)

func TestEveryRoundComesBackAsItWasKept(t *testing.T) {
	path := filepath.Join(dir(t), "test.journal")
	j := open(t, path, Options{})
	want := rounds(t0.Add(-50*time.Hour), 5*time.Minute, 900, 12)
	keepAll(t, j, want)
	same(t, "before closing", roundsIn(t, j.Entries(bg, time.Time{}, time.Time{})), want)
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	j = open(t, path, Options{})
	same(t, "after opening again", roundsIn(t, j.Entries(bg, time.Time{}, time.Time{})), want)
	same(t, "a part", roundsIn(t, j.Entries(bg, want[100].At, want[700].At)), want[100:700])
	newest, err := j.Newest(bg)
	if err != nil || !newest.Equal(want[899].At) {
		t.Errorf("newest is %v, %v", newest, err)
	}
	n, _, _ := j.c.number("select count(*) from tail where t < ?", stamp(t0.Add(24*time.Hour)))
	if n != 0 {
		t.Errorf("%d rounds of days that are over are still in the tail", n)
	}
}

func TestARoundNobodyAnsweredIsStillARound(t *testing.T) {
	j := fresh(t)
	want := []sensors.Round{{At: t0}, round(t0.Add(5*time.Minute), 3), {At: t0.Add(10 * time.Minute)},
		{At: t0.Add(15 * time.Minute), Faults: []sensors.Fault{{Probe: "p00", Kind: sensors.Silent, Why: "gone"}}}, round(t0.Add(30*time.Hour), 3)}
	keepAll(t, j, want)
	same(t, "rounds", roundsIn(t, j.Entries(bg, time.Time{}, time.Time{})), want)
}

func TestEntriesComeInOrderWithNotesAndGardens(t *testing.T) {
	j := fresh(t)
	rs := rounds(t0, 10*time.Minute, 400, 4)
	keepAll(t, j, rs)
	for _, n := range []sensors.Note{
		{At: rs[3].At, Subject: "D7", What: sensors.Watered, Detail: "150", Made: rs[9].At, About: time.Hour},
		{At: rs[3].At.Add(time.Minute), Subject: "D7", What: sensors.Nose},
		{At: t0.Add(-90 * 24 * time.Hour), Subject: "D1", What: sensors.Repotted},
		{At: t0.Add(90 * 24 * time.Hour), Subject: "all:dry-winter", What: sensors.Away, Detail: "2027-03-01"},
	} {
		for range 2 { // the same note twice is one note
			if err := j.AddNote(bg, n, nil); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, g := range []struct {
		at   time.Time
		text string
	}{{t0.Add(-time.Hour), "one"}, {rs[3].At, "two"}, {rs[5].At, "two"}, {rs[6].At, "one"}} {
		if err := j.AddGarden(bg, g.at, g.text); err != nil {
			t.Fatal(err)
		}
	}
	got := collect(t, j.Entries(bg, time.Time{}, time.Time{}))
	if !slices.IsSortedFunc(got, sensors.Compare) {
		t.Error("entries are not in order")
	}
	var notes, gardens, walked int
	for _, e := range got {
		switch {
		case e.Note != nil:
			notes++
		case e.Garden != nil:
			gardens++
		default:
			walked++
		}
	}
	if notes != 4 || gardens != 3 || walked != 400 {
		t.Errorf("%d notes, %d gardens, %d rounds; want 4, 3, 400", notes, gardens, walked)
	}
	for i, e := range got {
		if e.Note != nil && e.Note.What == sensors.Watered {
			if got[i-1].Garden == nil || got[i+1].Round == nil || e.Note.About != time.Hour || !e.Note.Made.Equal(rs[9].At) {
				t.Errorf("around the watering: %+v", got[i-1:i+2])
			}
		}
	}
}

func TestTheJournalMayBeWrittenWhileItIsRead(t *testing.T) {
	j := fresh(t)
	rs := rounds(t0, time.Hour, 24*70, 2)
	keepAll(t, j, rs)
	n := 0
	for e, err := range j.Entries(bg, time.Time{}, time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		if n%100 == 0 { // a round kept from within the loop would hang if rows were held open
			keepAll(t, j, []sensors.Round{round(rs[len(rs)-1].At.Add(time.Duration(n+1)*time.Minute), 2)})
		}
		if e.Round != nil {
			n++
		}
	}
	if n != len(rs) {
		t.Errorf("read %d rounds, want the %d there were at the start", n, len(rs))
	}
}

func TestTheEngineIsSetAsTheStoreNeedsIt(t *testing.T) {
	j := fresh(t)
	for pragma, want := range map[string]string{"locking_mode": "exclusive", "journal_mode": "wal"} {
		if got, _, err := j.c.word("pragma " + pragma); err != nil || got != want {
			t.Errorf("%s is %q, %v", pragma, got, err)
		}
	}
	for pragma, want := range map[string]int64{"synchronous": 2, "page_size": 4096, "application_id": applicationID,
		"user_version": int64(len(migrations))} {
		if got, _, err := j.c.number("pragma " + pragma); err != nil || got != want {
			t.Errorf("%s is %d, %v", pragma, got, err)
		}
	}
	if !sqlite.FdatasyncEnabled() {
		t.Error("commits are not synced with fdatasync")
	}
	for range 2 { // a new file, and one opened again
		if exists(j.path + "-shm") {
			t.Error("the index of the log lies on the card: the lock was not exclusive when the log was opened")
		}
		keepAll(t, j, rounds(t0, time.Minute, 3, 3))
		_ = j.Close()
		j = open(t, j.path, Options{})
	}
	name, _ := dsn(j.path, pragmas, logModes...)
	if !strings.Contains(name, "_txlock=immediate") {
		t.Error("transactions are not immediate")
	}
}

func TestChangesAreRecordedExactlyOnce(t *testing.T) {
	j := fresh(t)
	c := change(1, "Water D7 lightly.", t0.Add(time.Hour))
	if err := j.Keep(bg, round(t0, 3), []alerts.Change{c, c}); err != nil {
		t.Fatal(err)
	}
	d := change(2, "", time.Time{})
	d.Pots = nil
	if err := j.Record(bg, []alerts.Change{c, d}); err != nil {
		t.Fatal(err)
	}
	var got []alerts.Change
	for c, err := range j.Changes(bg, time.Time{}) {
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, c)
	}
	same(t, "changes", got, []alerts.Change{c, d})
}
