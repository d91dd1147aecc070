package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon"
	"lathwatch/daemon/journal"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/tape"
)

// rehearseCmd runs recorded readings through the same rules the daemon lives by.
type rehearseCmd struct {
	Garden   string   `type:"path" help:"The garden file used for the whole span; with --journal, the gardens on record when missing."`
	Readings string   `type:"path" help:"Recorded readings: CSV with the header time,probe,value,unit."`
	Notes    string   `type:"path" help:"The keeper's notes: CSV with the header time,subject,what,detail."`
	Journal  string   `help:"Instead of readings: a backup of the journal, or \"live\" for the running daemon's." placeholder:"FILE"`
	State    string   `type:"path" default:"${state}" help:"The folder of the daemon asked for its journal." env:"STATE_DIRECTORY"`
	From     moment   `help:"With --journal: begin here." placeholder:"TIME"`
	Until    moment   `help:"With --journal: end here." placeholder:"TIME"`
	Against  bool     `help:"With --journal: print only what differs from what was said then."`
	Relearn  bool     `help:"Walk everything on record and write anew what each season taught (drying rates, forcing sums, nights)."`
	StateAt  []moment `help:"Also print the state of every pot and place at this instant; may be given again." placeholder:"TIME"`
	JSON     bool     `name:"json" help:"One JSON object a line."`
}

// Run rehearses. Broken rows are named and the rest is used; the status is 1 then.
func (c *rehearseCmd) Run(w *world) error {
	if c.Relearn {
		return c.relearn(w)
	}
	if (c.Readings == "") == (c.Journal == "") {
		return misuse{errors.New("give either --readings or --journal")}
	}
	if c.Readings != "" && c.Garden == "" {
		return misuse{errors.New("--readings needs --garden")}
	}
	var g *garden.Garden
	if c.Garden != "" {
		var err error
		if g, _, err = daemon.ReadGarden(c.Garden); err != nil {
			return misuse{err}
		}
	}
	if c.Journal != "" {
		return c.recorded(w, g)
	}
	return c.written(w, g)
}

// relearn asks the daemon that holds the journal, or does it itself when none does.
func (c *rehearseCmd) relearn(w *world) (err error) {
	var seasons []int
	client, err := daemon.Dial(c.State)
	switch {
	case err == nil:
		seasons, err = client.Relearn(w.ctx)
	case errors.Is(err, daemon.ErrNobody):
		var j *journal.Journal
		if j, err = openToWrite(filepath.Join(c.State, "lathwatch.journal"), journal.Options{}); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, j.Close()) }()
		seasons, err = daemon.Relearn(w.ctx, j)
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(w.out, "%d seasons learnt anew\n", len(seasons))
	return nil
}

// written rehearses CSV files.
func (c *rehearseCmd) written(w *world, g *garden.Garden) error {
	rows, bad, err := readRows(w, c.Readings)
	if err != nil {
		return misuse{err}
	}
	notes, badNotes, err := readNotes(w, c.Notes)
	if err != nil {
		return misuse{err}
	}
	rows, strange := tape.Fit(c.Readings, rows, g)
	for _, b := range strange {
		fmt.Fprintln(w.err, b)
	}
	bad += badNotes + len(strange)
	var from, until time.Time
	if len(rows) > 0 {
		from, until = rows[0].At, rows[len(rows)-1].At
	}
	r := c.rehearsal(w, newProgress(w.err, "rehearsing", from, until))
	r.Garden, r.Undone = g, daemon.Undone(notes)
	r.Entries = daemon.Admit(g, tape.Entries(rows, g.Site.Every, notes))
	r.Said = func(ch alerts.Change) error { return c.print(w.out, g, ch) }
	if err := c.run(r); err != nil {
		return err
	}
	if bad > 0 {
		return errFault
	}
	return nil
}

// recorded rehearses what a journal holds.
func (c *rehearseCmd) recorded(w *world, g *garden.Garden) (err error) {
	file := c.Journal
	if file == "live" {
		file = ""
	}
	past, err := daemon.OpenPast(w.ctx, file, c.State)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, past.Close()) }()
	from, until := time.Time(c.From), time.Time(c.Until)
	end := until
	if end.IsZero() {
		if end, err = past.Newest(w.ctx); err != nil {
			return err
		}
	}
	r := c.rehearsal(w, newProgress(w.err, "rehearsing", from, end))
	if r.Entries, r.Undone, err = daemon.Recorded(w.ctx, past.Journal, from, until); err != nil {
		return err
	}
	r.Garden = g
	var said []alerts.Change
	r.Said = func(ch alerts.Change) error {
		if c.Against {
			said = append(said, ch)
			return nil
		}
		return c.print(w.out, g, ch)
	}
	if err := c.run(r); err != nil || !c.Against {
		return err
	}
	record, err := daemon.Said(w.ctx, past.Journal, from, end)
	if err != nil {
		return err
	}
	return c.differences(w.out, g, said, record)
}

func (c *rehearseCmd) rehearsal(w *world, p *progress) daemon.Rehearsal {
	r := daemon.Rehearsal{State: func(line []byte) error { p.clear(); _, err := fmt.Fprintf(w.out, "%s\n", line); return err },
		After: func(at time.Time, _ *daemon.Walk) { p.at(at) }, Done: p.done}
	for _, at := range c.StateAt {
		r.StateAt = append(r.StateAt, time.Time(at))
	}
	return r
}

func (c *rehearseCmd) run(r daemon.Rehearsal) error {
	_, err := r.Run()
	r.Done()
	return err
}

// differences prints, in the order of time, what was said and would not be (-) and what would be said now and was not (+).
func (c *rehearseCmd) differences(out io.Writer, g *garden.Garden, said, record []alerts.Change) error {
	type difference struct {
		mark string
		alerts.Change
	}
	var all []difference
	only := func(mark string, ours, others []alerts.Change) {
		for _, ch := range ours {
			same := func(o alerts.Change) bool { return o.Key == ch.Key && slices.Equal(o.Pots, ch.Pots) }
			if !slices.ContainsFunc(others, same) {
				all = append(all, difference{mark, ch})
			}
		}
	}
	only("-", record, said)
	only("+", said, record)
	slices.SortStableFunc(all, func(a, b difference) int { return a.At.Compare(b.At) })
	for _, d := range all {
		if _, err := fmt.Fprint(out, d.mark+" "); err != nil {
			return err
		}
		if err := c.print(out, g, d.Change); err != nil {
			return err
		}
	}
	return nil
}

func (c *rehearseCmd) print(out io.Writer, g *garden.Garden, ch alerts.Change) error {
	if c.JSON {
		_, err := fmt.Fprintf(out, "%s\n", alerts.MessageLine(ch))
		return err
	}
	zone := time.UTC
	if g != nil {
		zone = g.Site.Zone
	}
	_, err := fmt.Fprintf(out, "%s  %-8s %-12s %s\n", ch.At.In(zone).Format("2006-01-02 15:04"), ch.Rank, ch.Kind, ch.Text)
	return err
}

func readRows(w *world, path string) ([]tape.Row, int, error) {
	return readTape(w, path, tape.ReadReadings)
}

func readNotes(w *world, path string) ([]sensors.Note, int, error) {
	if path == "" {
		return nil, 0, nil
	}
	return readTape(w, path, tape.ReadNotes)
}

// readTape reads a file and names its broken rows.
func readTape[T any](w *world, path string, read func(string, io.Reader) ([]T, []*tape.RowError, error)) ([]T, int, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, err
	}
	defer f.Close()
	rows, bad, err := read(path, f)
	for _, b := range bad {
		fmt.Fprintln(w.err, b)
	}
	return rows, len(bad), err
}
