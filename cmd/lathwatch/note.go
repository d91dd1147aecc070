package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"lathwatch/daemon"
	"lathwatch/daemon/journal"
	"lathwatch/dashboards/ledger"
	"lathwatch/sensors"
	"lathwatch/sensors/tape"
)

// noteCmd writes down what the keeper did or saw, beside a running daemon or without one.
type noteCmd struct {
	place
	Subject string        `arg:"" help:"A pot, plant or place id, or all:<regime>."`
	What    string        `arg:"" help:"watered, fed, dressed, moved, nose, opening, open, bud, flower, leaf-down, repotted, divided, shoots, lost, mark, weighed, feel, regime, cold-done, away, back, done, seen, snoozed or undo."`
	Detail  []string      `arg:"" optional:"" help:"What the word wants: an amount, a place, a count ..."`
	At      moment        `help:"When it happened; now when missing." placeholder:"TIME"`
	About   time.Duration `help:"How uncertain that is, either side." placeholder:"48h"`
}

// Run writes the note.
func (c *noteCmd) Run(w *world) error {
	n := sensors.Note{At: time.Time(c.At), About: c.About, Subject: c.Subject, What: sensors.What(c.What), Detail: strings.Join(c.Detail, " ")}
	if n.At.IsZero() {
		n.At = time.Now().UTC().Truncate(time.Second)
	}
	n, err := tape.Checked(n)
	if err != nil {
		return misuse{err}
	}
	client, err := daemon.Dial(c.State)
	if errors.Is(err, daemon.ErrNobody) {
		return c.alone(w, n)
	}
	if err != nil {
		return err
	}
	id, err := client.Note(w.ctx, n)
	if err == nil {
		noted(w, n, id)
	}
	return wrongUse(err)
}

// noted says what was understood.
func noted(w *world, n sensors.Note, id string) {
	fmt.Fprintf(w.out, "noted %s: %s\n", id, strings.TrimSpace(fmt.Sprintf("%s %s %s", n.Subject, n.What, n.Detail)+n.At.UTC().Format(", 2 January 2006 15:04 UTC")))
	if o := ledger.Objection(n); o != "" {
		fmt.Fprintln(w.out, o)
	}
}

// wrongUse gives what a daemon refuses as the caller's mistake the status of one.
func wrongUse(err error) error {
	var wrong daemon.Wrong
	if errors.As(err, &wrong) {
		return misuse{err}
	}
	return err
}

// alone writes to the journal itself, when no daemon holds it.
func (c *noteCmd) alone(w *world, n sensors.Note) (err error) {
	g, text, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return misuse{err}
	}
	walk := daemon.NewWalk()
	if err := walk.Fix(n.At, g); err != nil {
		return err
	}
	if n.What != sensors.Undo && walk.Subjects(n.Subject) == 0 {
		return misuse{fmt.Errorf("%q is no pot, plant, place or all:<regime> of %s", n.Subject, c.Garden)}
	}
	if err := os.MkdirAll(c.State, 0o750); err != nil {
		return err
	}
	j, err := openToWrite(daemon.JournalPath(g, c.State), journal.Options{Zone: g.Site.Zone})
	if err != nil {
		return fmt.Errorf("opening the journal: %w", err)
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	n.Made = time.Now().UTC().Truncate(time.Second)
	ctx := context.WithoutCancel(w.ctx)
	if err := j.AddGarden(ctx, n.Made, text); err != nil {
		return err
	}
	if err := j.AddNote(ctx, n, nil); err != nil {
		return err
	}
	noted(w, n, n.ID)
	return nil
}
