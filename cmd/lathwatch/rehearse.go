package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"lathwatch/alerts"
	"lathwatch/daemon"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/tape"
)

// rehearseCmd runs recorded readings through the same rules the daemon lives by.
type rehearseCmd struct {
	Garden   string   `required:"" type:"path" help:"The garden file used for the whole span."`
	Readings string   `required:"" type:"path" help:"Recorded readings: CSV with the header time,probe,value,unit."`
	Notes    string   `type:"path" help:"The keeper's notes: CSV with the header time,subject,what,detail."`
	StateAt  []moment `help:"Also print the state of every pot and place at this instant; may be given again." placeholder:"TIME"`
	JSON     bool     `name:"json" help:"One JSON object a line."`
}

// Run rehearses. Broken rows are named and the rest is used; the status is 1 then.
func (c *rehearseCmd) Run(w *world) error {
	g, _, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return misuse{err}
	}
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
	p := rehearsalBar(w, rows)
	r := daemon.Rehearsal{Garden: g, Entries: daemon.Admit(g, tape.Entries(rows, g.Site.Every, notes)), Undone: daemon.Undone(notes),
		Said:  func(ch alerts.Change) error { return c.print(w.out, g, ch) },
		State: func(line []byte) error { _, err := fmt.Fprintf(w.out, "%s\n", line); return err },
		After: func(at time.Time, _ *daemon.Walk) { p.at(at) }}
	for _, at := range c.StateAt {
		r.StateAt = append(r.StateAt, time.Time(at))
	}
	_, err = r.Run()
	p.done()
	if err != nil {
		return err
	}
	if bad > 0 {
		return errFault
	}
	return nil
}

func (c *rehearseCmd) print(out io.Writer, g *garden.Garden, ch alerts.Change) error {
	if c.JSON {
		_, err := fmt.Fprintf(out, "%s\n", alerts.MessageLine(ch))
		return err
	}
	_, err := fmt.Fprintf(out, "%s  %-8s %-12s %s\n", ch.At.In(g.Site.Zone).Format("2006-01-02 15:04"), ch.Rank, ch.Kind, ch.Text)
	return err
}

func readRows(w *world, path string) ([]tape.Row, int, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, err
	}
	defer f.Close()
	rows, bad, err := tape.ReadReadings(path, f)
	for _, b := range bad {
		fmt.Fprintln(w.err, b)
	}
	return rows, len(bad), err
}

func readNotes(w *world, path string) ([]sensors.Note, int, error) {
	if path == "" {
		return nil, 0, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, err
	}
	defer f.Close()
	notes, bad, err := tape.ReadNotes(path, f)
	for _, b := range bad {
		fmt.Fprintln(w.err, b)
	}
	return notes, len(bad), err
}

func span(rows []tape.Row) (from, until time.Time) {
	if len(rows) > 0 {
		return rows[0].At, rows[len(rows)-1].At
	}
	return
}

func rehearsalBar(w *world, rows []tape.Row) *progress {
	from, until := span(rows)
	return newProgress(w.err, "rehearsing", from, until)
}
