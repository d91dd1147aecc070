package daemon

import (
	"cmp"
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/model"
	"lathwatch/sensors/poll"
	"lathwatch/sensors/tape"
)

// A faultYear lives one garden twice: a twin without faults, on whose messages the keeper acts, and a daemon with its journal whose
// probes, clock, card and way out fail by the plan. Weather, plants and notes are the same for both.
type faultYear struct {
	t      testing.TB
	dir    string
	text   string
	garden *garden.Garden
	probes []garden.Probe // in order of id
	model  *model.Model
	keeper *model.Keeper
	now    time.Time // the true instant

	twin     *Walk
	twinDoor *drivers.Door
	wanted   []alerts.Change // what the twin said

	d      *Daemon
	door   *drivers.Door
	clock  *poll.Clock
	wrong  time.Duration // the board's clock less the true time
	synced bool
	saw    time.Time // the newest round whose clock was trusted since the start
	booted time.Time
	boots  int
	off    bool // without power
	busy   bool // the way out does not answer
	letter []alerts.Change

	sick    []*ailment
	active  []*ailment
	history []*ailment // all that were planned
	mishaps []mishap
	waiting []sensors.Note // the journal would not take them yet
	logged  map[string][]sensors.LateReading
	truth   truthBook
	account account
}

func newFaultYear(t testing.TB, seed uint64, every string, start time.Time) *faultYear {
	t.Helper()
	f := &faultYear{t: t, text: faultGarden(every), now: start, booted: start.Add(-time.Hour), synced: true, logged: map[string][]sensors.LateReading{}}
	f.account.bent = map[string]int{}
	insertCard(t)
	f.dir = filepath.Join(tempDir(t), cardWords)
	g, err := ParseGarden("garden.toml", []byte(f.text))
	if err != nil {
		t.Fatal(err)
	}
	f.garden, f.probes = g, slices.Clone(g.Probes)
	slices.SortFunc(f.probes, func(a, b garden.Probe) int { return cmp.Compare(a.ID, b.ID) })
	f.model = model.New(g, seed, start)
	f.keeper = f.model.Keeper()
	f.twin, f.twinDoor = NewWalk(), drivers.NewDoor(g.Probes)
	if err := f.twin.Fix(start, g); err != nil {
		t.Fatal(err)
	}
	f.truth.begin(g)
	f.boot()
	t.Cleanup(func() { _ = f.d.Close() })
	return f
}

// tempDir lies in memory where there is such a place: half a million rounds are half a million syncs.
func tempDir(t testing.TB) string {
	if dir, err := os.MkdirTemp("/dev/shm", "lathwatch"); err == nil {
		t.Cleanup(func() { _ = os.RemoveAll(dir) })
		return dir
	}
	return t.TempDir()
}

// boot starts the daemon on what the board says the time is.
func (f *faultYear) boot() {
	f.boots++
	root := filepath.Join(f.dir, "root")
	if err := errors.Join(os.MkdirAll(filepath.Join(root, "proc/sys/kernel/random"), 0o755), os.WriteFile(filepath.Join(root, "proc/sys/kernel/random/boot_id"),
		[]byte{byte('a' + f.boots%26), byte('a' + f.boots/26)}, 0o644)); err != nil {
		f.t.Fatal(err)
	}
	d, err := New(context.Background(), Config{GardenPath: "garden.toml", GardenText: f.text, StateDir: f.dir, Root: root, Now: f.wall, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		f.t.Fatal(err)
	}
	f.d, f.saw = d, time.Time{}
	d.boxes = append(d.boxes, newOutbox("recorder", d.journal.Outbox("recorder")))
	f.clock = &poll.Clock{Root: root, Wall: f.wall, Boot: func() (time.Duration, error) { return f.now.Sub(f.booted), nil }, Sync: func() (bool, error) { return f.synced, nil },
		Newest: func() time.Time { // as the poller's clock: the newest trusted round, be it on record yet or not
			newest := f.saw
			if ms := time.UnixMilli(d.newest.Load()).UTC(); d.newest.Load() > 0 && ms.After(newest) {
				newest = ms
			}
			return newest
		}}
	if f.door, err = d.warmDoor(context.Background()); err != nil {
		f.t.Fatal(err)
	}
}

func (f *faultYear) wall() time.Time { return f.now.Add(f.wrong) }

// live walks both to an instant, with faults or without.
func (f *faultYear) live(until time.Time, every time.Duration) {
	for ; f.now.Before(until); f.now = f.now.Add(every) {
		f.step()
	}
}

func (f *faultYear) step() {
	for _, n := range f.keeper.Notes(f.now) {
		f.note(n)
	}
	f.note(f.absence()...)
	sound := f.model.Step(f.now)
	f.truth.take(f)
	if len(sound.Readings)+len(sound.Faults) == 0 {
		f.chores()
		return
	}
	r := f.twinDoor.Admit(sound)
	changes, err := f.twin.Take(sensors.Entry{At: f.now, Round: &r})
	if err != nil {
		f.t.Fatal(err)
	}
	for _, c := range changes {
		if c.Text == "" || c.Kind == "digest" {
			continue
		}
		f.keeper.Hear(c.At, c.Kind, c.Pots)
		if c.To != alerts.ToDigest {
			f.wanted = append(f.wanted, c)
		}
	}
	f.mishap()
	if !f.off {
		f.round(sound)
	}
	f.chores()
}

// absence: the keeper is away for a fortnight in July.
func (f *faultYear) absence() []sensors.Note {
	if f.now.Month() != time.July || f.now.Day() != 5 || f.now.Hour() != 8 || f.now.Minute() != 0 {
		return nil
	}
	return []sensors.Note{{At: f.now, Subject: "garden", What: sensors.Away, Detail: f.now.AddDate(0, 0, 14).Format(time.DateOnly)}}
}

// note gives a note to both.
func (f *faultYear) note(ns ...sensors.Note) {
	for _, n := range ns {
		n, err := tape.Checked(n)
		if err != nil {
			f.t.Fatal(err)
		}
		f.twin.note(&n)
		f.waiting = append(f.waiting, n)
	}
}

// round sends what the probes say, faults and all, the way live rounds go: door, clock, visit.
func (f *faultYear) round(sound sensors.Round) {
	begin := cpuTime()
	for len(f.waiting) > 0 {
		if err := f.d.note(context.Background(), f.waiting[0]); err != nil {
			break // the card refuses it: the keeper sees that and writes it down later
		}
		f.waiting = f.waiting[1:]
	}
	r := f.spoil(sound)
	f.account.harness += cpuTime() - begin
	begin = cpuTime()
	stamp := f.clock.Stamp()
	r.At = stamp.Wall.Truncate(time.Second)
	if stamp.Trusted {
		f.saw = r.At
	}
	r = f.door.Admit(r)
	f.account.handed(f.now, r.Readings)
	for _, l := range f.late() {
		f.d.visit(context.Background(), poll.Visit{Entry: sensors.Entry{At: r.At, Late: l}, Stamp: stamp})
	}
	f.d.visit(context.Background(), poll.Visit{Entry: sensors.Entry{At: r.At, Round: &r}, Stamp: stamp})
	f.account.rounds++
	f.account.daemon += cpuTime() - begin
	if !f.busy && f.now.Minute()%10 == 0 {
		f.collect()
	}
}

// collect takes what lies in the outbox, as a way out does.
func (f *faultYear) collect() {
	ready, cancel := context.WithCancel(context.Background())
	cancel() // what is there is given, nothing is waited for
	box := f.d.boxes[0]
	for {
		l, err := box.Next(ready)
		if err != nil {
			return
		}
		if err := box.Done(context.Background(), l.Seq); err != nil {
			return // the card refuses the mark: it is handed out again
		}
		if l.Change.Text != "" && l.Change.Kind != "digest" && l.Change.To != alerts.ToDigest {
			f.letter = append(f.letter, l.Change)
		}
	}
}
