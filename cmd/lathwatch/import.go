package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"lathwatch/daemon"
	"lathwatch/daemon/exchange"
	"lathwatch/daemon/journal"
	"lathwatch/sensors"
)

// importCmd puts readings of other programs, or of a logger with its own store, into the past they belong to.
type importCmd struct {
	place
	File    string            `arg:"" type:"existingfile" help:"The file; it may be packed with gzip."`
	Format  string            `enum:"csv,senml,lines,wide" default:"csv" help:"csv (readings.csv), senml, lines (line protocol) or wide (a column a probe)."`
	Time    string            `default:"time" help:"wide: header of the column with the time."`
	Layout  string            `help:"wide: how the time is written, as 2006-01-02 15:04; RFC 3339 when missing."`
	Comma   string            `default:"," help:"wide: what separates columns."`
	Decimal string            `default:"." help:"wide: the decimal mark, a point or a comma."`
	Column  map[string]string `help:"wide: header=probe:unit, one for each column wanted." placeholder:"HEADER=PROBE:UNIT"`
}

// Run imports. Bad rows are named and the rest is kept; the status is 1 then.
func (c *importCmd) Run(w *world) (err error) {
	g, text, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return misuse{err}
	}
	read, err := c.read(g.Site.Zone)
	if err != nil {
		return misuse{err}
	}
	read.Fit(filepath.Base(c.File), g)
	for _, b := range read.Bad {
		fmt.Fprintln(w.err, b)
	}
	res, err := c.keep(w.ctx, g.Site.Zone, daemon.JournalPath(g, c.State), text, read.Rows)
	if err != nil {
		return err
	}
	fmt.Fprintf(w.out, "%d readings kept, %d were known already\n", res.Fresh, res.Known)
	if len(read.Bad) > 0 {
		return errFault
	}
	return nil
}

func (c *importCmd) read(zone *time.Location) (exchange.Read, error) {
	f, err := os.Open(c.File)
	if err != nil {
		return exchange.Read{}, err
	}
	defer f.Close()
	in, err := exchange.Plain(f)
	if err != nil {
		return exchange.Read{}, err
	}
	name := filepath.Base(c.File)
	switch c.Format {
	case "senml":
		return exchange.ReadSenML(name, in)
	case "lines":
		return exchange.ReadLines(name, in)
	case "wide":
		m, err := c.wide(zone)
		if err != nil {
			return exchange.Read{}, err
		}
		return exchange.ReadWide(name, in, m)
	}
	return exchange.ReadCSV(name, in)
}

func (c *importCmd) wide(zone *time.Location) (exchange.Wide, error) {
	m := exchange.Wide{Time: c.Time, Layout: c.Layout, Zone: zone}
	if comma := []rune(strings.ReplaceAll(c.Comma, `\t`, "\t")); len(comma) == 1 {
		m.Comma = comma[0]
	} else {
		return m, fmt.Errorf("--comma %q: write one character", c.Comma)
	}
	switch c.Decimal {
	case ".":
	case ",":
		m.Decimal = ','
	default:
		return m, fmt.Errorf("--decimal %q: write . or ,", c.Decimal)
	}
	for _, header := range slices.Sorted(maps.Keys(c.Column)) {
		to := c.Column[header]
		probe, unit, ok := strings.Cut(to, ":")
		if !ok {
			return m, fmt.Errorf("--column %s=%s: write header=probe:unit, like \"pot 7=D7-t:Cel\"", header, to)
		}
		m.Columns = append(m.Columns, exchange.Column{Header: header, Probe: sensors.ProbeID(probe), Unit: unit})
	}
	if len(m.Columns) == 0 {
		return m, errors.New("a wide file needs --column header=probe:unit for each column wanted")
	}
	return m, nil
}

// keep hands the readings to the daemon that holds the journal, or writes them itself when none does.
func (c *importCmd) keep(ctx context.Context, zone *time.Location, path, text string, rows []sensors.LateReading) (res journal.LateResult, err error) {
	client, err := daemon.Dial(c.State)
	if err == nil {
		return client.Import(ctx, rows)
	}
	if !errors.Is(err, daemon.ErrNobody) {
		return res, err
	}
	if err := os.MkdirAll(c.State, 0o750); err != nil {
		return res, err
	}
	j, err := openToWrite(path, journal.Options{Zone: zone})
	if err != nil {
		return res, err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	if len(rows) > 0 {
		if err := j.AddGarden(ctx, rows[0].At, text); err != nil {
			return res, err
		}
	}
	return exchange.Import(ctx, j, "", time.Now().UTC(), rows)
}
