package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"lathwatch/daemon"
	"lathwatch/daemon/journal"
	"lathwatch/dashboards/ledger"
	"lathwatch/dashboards/review"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// ledgerCmd shows the plants' books.
type ledgerCmd struct {
	place
	Season  int    `arg:"" optional:"" help:"The year in which the plants came up; the newest when missing."`
	Journal string `type:"path" help:"Read a backup of the journal instead." placeholder:"FILE"`
	CSV     string `name:"csv" type:"path" help:"Write every season to this file." placeholder:"FILE"`
	Import  string `type:"path" help:"Take in records of years gone by from such a file." placeholder:"FILE"`
	List    bool   `help:"The list by position to take along before repotting."`
	At      string `help:"What stood there when a label is lost: place:number or two neighbours, left:right." placeholder:"WHERE"`
	Feeding bool   `help:"Doses by pot, what was given this season and what is due; walks the newest season on record."`
	Why     bool   `help:"What differed for plants that did not double, over all seasons; walks the seasons on record."`
}

// Run shows, writes or takes in.
func (c *ledgerCmd) Run(w *world) (err error) {
	if c.Import != "" {
		return c.takeIn(w)
	}
	past, err := daemon.OpenPast(w.ctx, c.Journal, c.State)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, past.Close()) }()
	book, g, err := daemon.Ledger(w.ctx, past.Journal)
	if err != nil {
		return err
	}
	switch {
	case c.CSV != "":
		return writeFile(c.CSV, book.CSV)
	case c.List:
		return book.WriteList(w.out, g)
	case c.At != "":
		return c.at(w, book, g)
	case c.Why:
		return c.why(w, past.Journal, book)
	case c.Feeding:
		return c.feeding(w, past.Journal)
	}
	if len(book.Seasons) == 0 {
		fmt.Fprintln(w.out, "Nothing is noted of any plant yet: write \"lathwatch note <pot> shoots 3\", or take in older records with --import.")
		return nil
	}
	season := c.Season
	if season == 0 {
		season = book.Seasons[len(book.Seasons)-1]
	}
	if !slices.Contains(book.Seasons, season) {
		return misuse{fmt.Errorf("nothing is noted of season %d (on record: %v)", season, book.Seasons)}
	}
	return book.WriteSeason(w.out, season)
}

func writeFile(path string, write func(io.Writer) error) (err error) {
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("writing the file: %w", err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return write(f)
}

func (c *ledgerCmd) at(w *world, book *ledger.Book, g *garden.Garden) error {
	a, b, ok := strings.Cut(c.At, ":")
	if !ok {
		return misuse{fmt.Errorf("%q: write place:number, like table:3, or two neighbours, like D7:D9", c.At)}
	}
	all := book.Positions(g)
	p, found := ledger.Between(all, a, b)
	if n, err := strconv.Atoi(b); err == nil {
		p, found = ledger.Named(all, a, n)
	}
	if !found {
		return misuse{fmt.Errorf("no pot on record stands at %s", c.At)}
	}
	name := p.Name
	if name == "" {
		name = p.Plant
	}
	fmt.Fprintf(w.out, "%s (%s), number %d at %s", p.Pot, name, p.No, p.Place)
	if p.Left != "" {
		fmt.Fprintf(w.out, ", right of %s", p.Left)
	}
	if p.Right != "" {
		fmt.Fprintf(w.out, ", left of %s", p.Right)
	}
	fmt.Fprintln(w.out, ". This goes by the order on record: look at the neighbours' labels too.")
	return nil
}

func (c *ledgerCmd) feeding(w *world, j *journal.Journal) error {
	st, err := daemon.StandingOf(w.ctx, j)
	if err != nil {
		return err
	}
	for _, l := range ledger.FeedingNow(st) {
		fmt.Fprintln(w.out, l)
	}
	return nil
}

func (c *ledgerCmd) why(w *world, j *journal.Journal, book *ledger.Book) error {
	r, err := daemon.ReviewJournal(w.ctx, j, 0, nil)
	if err != nil {
		return err
	}
	return ledger.WriteDifferences(w.out, ledger.Differ(book, append([]*review.Winter{r.Winter}, r.Others...), c.Season))
}

// takeIn reads a ledger file and writes its notes, all or none of the good rows.
func (c *ledgerCmd) takeIn(w *world) error {
	g, text, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return misuse{err}
	}
	f, err := os.Open(c.Import)
	if err != nil {
		return misuse{fmt.Errorf("opening the ledger: %w", err)}
	}
	defer f.Close()
	south, _ := g.Site.South()
	notes, bad, err := ledger.Import(c.Import, f, garden.Calendar{Zone: g.Site.Zone, South: south}, func(p string) bool { return g.Plant(p) != nil })
	if err != nil {
		return misuse{err}
	}
	for _, b := range bad {
		fmt.Fprintln(w.err, b)
	}
	client, err := daemon.Dial(c.State)
	switch {
	case err == nil:
		err = client.Notes(w.ctx, notes)
	case errors.Is(err, daemon.ErrNobody):
		err = c.alone(w.ctx, g, text, notes)
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(w.out, "%d %s taken in.\n", len(notes), plural(len(notes), "note"))
	if len(bad) > 0 {
		return errFault
	}
	return nil
}

// alone writes to the journal itself, when no daemon holds it.
func (c *ledgerCmd) alone(ctx context.Context, g *garden.Garden, text string, notes []sensors.Note) (err error) {
	j, err := openToWrite(daemon.JournalPath(g, c.State), journal.Options{Zone: g.Site.Zone})
	if err != nil {
		return fmt.Errorf("opening the journal: %w", err)
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	now := time.Now().UTC().Truncate(time.Second)
	if err := j.AddGarden(ctx, now, text); err != nil {
		return err
	}
	for _, n := range notes {
		n.Made = now
		if err := j.AddNote(ctx, n, nil); err != nil {
			return err
		}
	}
	return nil
}
