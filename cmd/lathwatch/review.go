package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"lathwatch/daemon"
	"lathwatch/dashboards/review"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/tape"
)

// reviewCmd tells what a winter was and what came of what was said.
type reviewCmd struct {
	Season   int    `arg:"" optional:"" help:"The year in which the plants came up; the newest when missing."`
	Place    string `help:"Only this place and its pots." placeholder:"ID"`
	Out      string `type:"path" help:"Write to this file: .html (one page to print), .svg, .png or .csv. Without it a few lines are printed." placeholder:"FILE"`
	State    string `type:"path" default:"${state}" help:"The folder of the daemon asked." env:"STATE_DIRECTORY"`
	Journal  string `type:"path" help:"Instead: a backup of the journal." placeholder:"FILE"`
	Garden   string `type:"path" help:"With --readings: the garden file." placeholder:"FILE"`
	Readings string `type:"path" help:"Instead: recorded readings, CSV as rehearse takes them." placeholder:"FILE"`
	Notes    string `type:"path" help:"With --readings: the keeper's notes, CSV." placeholder:"FILE"`
}

// Run works the review out and writes it.
func (c *reviewCmd) Run(w *world) error {
	write, err := c.writer()
	if err != nil {
		return err
	}
	r, err := c.reviewed(w)
	if err != nil {
		return err
	}
	rep := &review.Report{Winter: r.Winter, Others: r.Others, Place: c.Place}
	if c.Place != "" && !rep.Knows(c.Place) {
		return misuse{fmt.Errorf("%q is no place of that season", c.Place)}
	}
	if c.Out == "" {
		fmt.Fprintln(w.out, r.Winter.Title())
		for _, l := range rep.Lead() {
			fmt.Fprintln(w.out, l)
		}
		return nil
	}
	var b bytes.Buffer
	if err := write(rep, &b); err != nil {
		return fmt.Errorf("drawing the review: %w", err)
	}
	if err := os.WriteFile(c.Out, b.Bytes(), 0o644); err != nil {
		return fmt.Errorf("writing the review: %w", err)
	}
	fmt.Fprintf(w.out, "%s: %s\n", c.Out, r.Winter.Title())
	return nil
}

// writer chooses by the file's ending, before any work is done.
func (c *reviewCmd) writer() (func(*review.Report, io.Writer) error, error) {
	if (c.Readings == "") != (c.Garden == "") {
		return nil, misuse{errors.New("--readings and --garden go together")}
	}
	if c.Readings != "" && c.Journal != "" {
		return nil, misuse{errors.New("give either --readings or --journal")}
	}
	switch strings.ToLower(filepath.Ext(c.Out)) {
	case "":
		if c.Out == "" {
			return nil, nil
		}
	case ".html", ".htm":
		return (*review.Report).HTML, nil
	case ".svg":
		return (*review.Report).SVG, nil
	case ".png":
		return (*review.Report).PNG, nil
	case ".csv":
		return (*review.Report).CSV, nil
	}
	return nil, misuse{fmt.Errorf("%s: write a name ending in .html, .svg, .png or .csv", c.Out)}
}

func (c *reviewCmd) reviewed(w *world) (*daemon.Reviewed, error) {
	if c.Readings != "" {
		return c.written(w)
	}
	if c.Journal == "" {
		client, err := daemon.Dial(c.State)
		if err == nil {
			return client.Review(w.ctx, c.Season)
		}
		if !errors.Is(err, daemon.ErrNobody) {
			return nil, err
		}
	}
	return c.recorded(w.ctx, w.err)
}

// recorded reads a journal nobody holds.
func (c *reviewCmd) recorded(ctx context.Context, errOut io.Writer) (r *daemon.Reviewed, err error) {
	past, err := daemon.OpenPast(ctx, c.Journal, c.State)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, past.Close()) }()
	var bar *progress
	passed := func(at time.Time) {
		if bar == nil {
			bar = newProgress(errOut, "walking the season", at, at.AddDate(1, 2, 0))
		}
		bar.at(at)
	}
	r, err = daemon.ReviewJournal(ctx, past.Journal, c.Season, passed)
	if bar != nil {
		bar.done()
	}
	return r, err
}

// written reviews CSV files.
func (c *reviewCmd) written(w *world) (*daemon.Reviewed, error) {
	g, _, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return nil, misuse{err}
	}
	rows, _, err := readRows(w, c.Readings)
	if err != nil {
		return nil, misuse{err}
	}
	notes, _, err := readNotes(w, c.Notes)
	if err != nil {
		return nil, misuse{err}
	}
	rows, strange := tape.Fit(c.Readings, rows, g)
	for _, b := range strange {
		fmt.Fprintln(w.err, b)
	}
	if len(rows) == 0 {
		return nil, misuse{fmt.Errorf("%s holds no reading this garden can use", c.Readings)}
	}
	south, _ := g.Site.South()
	cal := garden.Calendar{Zone: g.Site.Zone, South: south}
	var seasons []int
	for s := cal.Season(cal.DateOf(rows[0].At)); s <= cal.Season(cal.DateOf(rows[len(rows)-1].At)); s++ {
		seasons = append(seasons, s)
	}
	bar := newProgress(w.err, "walking the seasons", rows[0].At, rows[len(rows)-1].At)
	ws, err := daemon.Reviewing{Garden: g, Entries: daemon.Admit(g, tape.Entries(rows, g.Site.Every, notes)), Undone: daemon.Undone(notes), Seasons: seasons, Passed: bar.at}.Run()
	bar.done()
	if err != nil {
		return nil, err
	}
	want := c.Season
	if want == 0 {
		want = seasons[len(seasons)-1]
	}
	r := &daemon.Reviewed{}
	for _, one := range ws {
		if one.Season == want {
			r.Winter = one
		} else {
			r.Others = append(r.Others, one.Brief())
		}
	}
	if r.Winter == nil {
		return nil, misuse{fmt.Errorf("%w: season %d (in the file: %v)", daemon.ErrNoSeason, want, seasons)}
	}
	return r, nil
}
