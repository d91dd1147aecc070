package main

import (
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"lathwatch/daemon"
	"lathwatch/daemon/exchange"
)

// exportCmd writes recorded readings for other programs.
type exportCmd struct {
	place
	Journal string `type:"path" help:"A backup to read instead of the journal in use." placeholder:"FILE"`
	Format  string `enum:"csv,senml,lines" default:"csv" help:"csv (readings.csv), senml (RFC 8428, a pack a line) or lines (line protocol)."`
	From    moment `help:"Begin here." placeholder:"TIME"`
	Until   moment `help:"End before this." placeholder:"TIME"`
	Out     string `type:"path" help:"The file; a name ending in .gz is packed. Standard output when missing." placeholder:"FILE"`
}

// Run exports.
func (c *exportCmd) Run(w *world) (err error) {
	past, err := daemon.OpenPast(w.ctx, c.Journal, c.State)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, past.Close()) }()
	out, done, err := c.open(w)
	if err != nil {
		return err
	}
	rounds := exchange.Rounds(past.Entries(w.ctx, time.Time(c.From), time.Time(c.Until)))
	var t exchange.Tally
	switch c.Format {
	case "csv":
		t, err = exchange.WriteCSV(out, rounds)
	case "senml":
		t, err = exchange.WriteSenML(out, c.node(), rounds)
	case "lines":
		t, err = exchange.WriteLines(out, c.node(), rounds)
	}
	if err = errors.Join(err, done()); err != nil {
		return err
	}
	if t.LeftOut > 0 {
		fmt.Fprintf(w.err, "%d readings written, %d suspect ones left out: the format has no word for them\n", t.Readings, t.LeftOut)
	}
	return nil
}

func (c *exportCmd) node() string {
	if g, _, err := daemon.ReadGarden(c.Garden); err == nil {
		return g.Site.ID
	}
	return strings.TrimSuffix(filepath.Base(c.State), ".journal")
}

func (c *exportCmd) open(w *world) (io.Writer, func() error, error) {
	if c.Out == "" {
		return w.out, func() error { return nil }, nil
	}
	f, err := os.OpenFile(c.Out, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return nil, nil, err
	}
	if !strings.HasSuffix(c.Out, ".gz") {
		return f, f.Close, nil
	}
	z := gzip.NewWriter(f)
	return z, func() error { return errors.Join(z.Close(), f.Close()) }, nil
}
