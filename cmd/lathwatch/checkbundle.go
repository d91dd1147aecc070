package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"lathwatch/daemon"
	"lathwatch/daemon/exchange"
	"lathwatch/daemon/logbook"
	"lathwatch/daemon/vitals"
	"lathwatch/sensors/table"
)

// bundleReadings is how far back the readings of a bundle go.
const bundleReadings = 14 * 24 * time.Hour

// bundle writes a support bundle; with or without a running daemon, and also when the garden file is refused.
func (c *checkCmd) bundle(w *world) (err error) {
	now := time.Now()
	parts := []vitals.Part{vitals.About(c.Root, buildVersion(), now), vitals.Wires(c.Root)}
	text, err := os.ReadFile(c.Garden)
	if err != nil {
		return misuse{err}
	}
	parts = append(parts, vitals.Part{Name: "garden.toml", Say: "the garden file, secrets blanked", Text: vitals.BlankGarden(string(text))}, c.checked())
	client, err := daemon.Dial(c.State)
	switch {
	case err == nil:
		more, err := client.Parts(w.ctx)
		if err != nil {
			return err
		}
		parts = append(parts, more...)
	case errors.Is(err, daemon.ErrNobody):
		parts = append(parts, c.asleep(w.ctx))
	default:
		return err
	}
	if c.Readings {
		p, err := c.readings(w.ctx, now)
		if err != nil {
			return err
		}
		parts = append(parts, p)
	}
	f, err := os.OpenFile(c.Bundle, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return misuse{err}
	}
	defer func() {
		if err = errors.Join(err, f.Close()); err != nil {
			os.Remove(c.Bundle)
		}
	}()
	if err := vitals.WriteBundle(f, now, parts, logbook.NewVeil(vitals.Secrets(string(text)))); err != nil {
		return err
	}
	_, err = fmt.Fprintf(w.out, "%s holds %d files. Secrets are blanked; look through it all the same before you give it away.\n", c.Bundle, len(parts)+1)
	return err
}

// checked is what a check of the garden file says. What a finding quotes of the file may be a secret: only its place is told.
func (c *checkCmd) checked() vitals.Part {
	var b strings.Builder
	g, _, err := daemon.ReadGarden(c.Garden)
	var found *table.Error
	switch {
	case errors.As(err, &found):
		for _, f := range table.List(err) {
			fmt.Fprintf(&b, "refused: line %d, %s %s\n", f.Line, f.Path, f.Key)
		}
	case err != nil:
		b.WriteString("the file cannot be read\n")
	default:
		fmt.Fprintf(&b, "%d places, %d pots, %d probes; nothing is refused.\n", len(g.Places), len(g.Pots), len(g.Probes))
		for _, l := range remarks(g) {
			b.WriteString(l + "\n")
		}
	}
	return vitals.Part{Name: "check.txt", Say: "what a check of the garden file says", Text: b.String()}
}

// asleep looks at the journal of a daemon that does not run.
func (c *checkCmd) asleep(ctx context.Context) vitals.Part {
	var b strings.Builder
	b.WriteString("No daemon runs.\n")
	past, err := daemon.OpenPast(ctx, "", c.State)
	if err != nil {
		fmt.Fprintf(&b, "%v\n", err)
	} else {
		defer past.Close()
		if h, err := past.Health(ctx); err == nil {
			fmt.Fprintf(&b, "journal of %d bytes, log of %d; %d of %d bytes free; newest round %s; last backup %s\n", h.Size, h.Log, h.Free, h.Whole, h.Newest.Format(time.RFC3339),
				h.LastBackup.Format(time.RFC3339))
		}
		if starts, err := past.Starts(ctx, 10); err == nil {
			for _, s := range daemon.StartLines(starts) {
				fmt.Fprintf(&b, "start %s %s, ended: %s\n", s.At.Format(time.RFC3339), s.Version, s.Ending)
			}
		}
		r, err := past.Check(ctx)
		fmt.Fprintf(&b, "%d readings in %d sealed days and %d rounds, complaints %d, unreadable parts %d, %v\n", r.Readings, r.Days, r.Rounds, len(r.Engine), len(r.Bad), err)
	}
	return vitals.Part{Name: "journal.txt", Say: "the journal, which nobody holds", Text: b.String()}
}

// readings are those of the last two weeks on record.
func (c *checkCmd) readings(ctx context.Context, now time.Time) (p vitals.Part, err error) {
	past, err := daemon.OpenPast(ctx, "", c.State)
	if err != nil {
		return p, err
	}
	defer func() { err = errors.Join(err, past.Close()) }()
	var b strings.Builder
	_, err = exchange.WriteCSV(&b, exchange.Rounds(past.Entries(ctx, now.Add(-bundleReadings), time.Time{})))
	return vitals.Part{Name: "readings.csv", Say: "readings of the last two weeks, because you asked for them", Text: b.String()}, err
}
