package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"

	"lathwatch/daemon"
	"lathwatch/daemon/journal"
)

// backupCmd copies the journal, through the daemon where one runs, and checks the copy by opening it.
type backupCmd struct {
	place
	To   string `type:"path" help:"The folder for the copy; the garden file's when missing." placeholder:"FOLDER"`
	Keep int    `help:"How many copies stay; the garden file's number when missing."`
}

// Run makes one copy and says where it is.
func (c *backupCmd) Run(w *world) (err error) {
	g, _, err := daemon.ReadGarden(c.Garden)
	if err != nil {
		return misuse{err}
	}
	client, err := daemon.Dial(c.State)
	if err == nil {
		path, err := client.Backup(w.ctx, c.To, c.Keep)
		if err != nil {
			return err
		}
		fmt.Fprintln(w.out, path)
		if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("the daemon wrote it, but it is not there for us: a service has a /tmp of its own. Take a folder under /media, /mnt or %s", c.State)
		}
		return nil
	}
	if !errors.Is(err, daemon.ErrNobody) {
		return err
	}
	j, err := openToWrite(daemon.JournalPath(g, c.State), journal.Options{Zone: g.Site.Zone, Backups: g.Services.Backup.Folder, Keep: g.Services.Backup.Keep})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	path, err := j.Backup(w.ctx, c.To, c.Keep)
	if err == nil {
		fmt.Fprintln(w.out, path)
	}
	return err
}

// salvageCmd writes what can be read of a damaged journal into a new one, with a report.
type salvageCmd struct {
	Damaged string `arg:"" type:"existingfile" help:"The damaged file."`
	New     string `arg:"" type:"path" help:"The new one; it must not exist."`
}

// Run salvages and says what came back and what did not, a line each. Status 1 when something was lost.
func (c *salvageCmd) Run(w *world) error {
	report, err := journal.Salvage(c.Damaged, c.New)
	if err != nil {
		return err
	}
	fmt.Fprintln(w.out, report.Problem)
	for _, line := range slices.Concat(report.Did, report.Lost) {
		fmt.Fprintln(w.out, line)
	}
	if len(report.Lost) > 0 {
		return errFault
	}
	return nil
}
