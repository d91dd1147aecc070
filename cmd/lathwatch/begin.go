package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"
	"strings"

	"lathwatch/daemon"
)

// beginCmd writes a starter garden file.
type beginCmd struct {
	Garden    string   `type:"path" default:"garden.toml" help:"The file to write; one that is there is never touched."`
	ID        string   `name:"id" help:"Short name for topics and files: letters, digits, hyphens." placeholder:"ID"`
	Name      string   `help:"The garden's name for people." placeholder:"TEXT"`
	Latitude  *float64 `help:"Degrees, south negative." placeholder:"DEG"`
	Longitude *float64 `help:"Degrees, west negative." placeholder:"DEG"`
	Zone      string   `help:"Time zone, like Europe/Dublin." placeholder:"NAME"`
	Dry       *int     `help:"Pots that winter dry under a roof." placeholder:"N"`
	Wet       *int     `help:"Pots that winter wet in the open." placeholder:"N"`
}

// Run asks what no flag gave, then writes.
func (c *beginCmd) Run(w *world) error {
	if _, err := os.Lstat(c.Garden); err == nil {
		return misuse{fmt.Errorf("%s is there already and is not touched: name another with --garden", c.Garden)}
	}
	q := asker{in: bufio.NewScanner(w.in), out: w.out}
	b := daemon.Beginning{ID: q.text(c.ID, "A short name for files (letters, digits, hyphens)", "garden"), Name: q.text(c.Name, "Its name for people", "The garden")}
	b.Latitude = q.number(c.Latitude, "Latitude in degrees, south negative", "")
	b.Longitude = q.number(c.Longitude, "Longitude in degrees, west negative", "")
	b.Zone = q.text(c.Zone, "Time zone", localZone())
	b.Dry = q.whole(c.Dry, "How many pots winter dry under a roof", "3")
	b.Wet = q.whole(c.Wet, "How many pots winter wet in the open", "3")
	if q.err != nil {
		return misuse{q.err}
	}
	text, err := b.Text()
	if err != nil {
		return misuse{err}
	}
	if _, err := daemon.ParseGarden(c.Garden, []byte(text)); err != nil {
		return err
	}
	if err := writeNew(c.Garden, text); err != nil {
		return err
	}
	fmt.Fprintf(w.out, "%s is written. Next: lathwatch check --explain --garden %s\n", c.Garden, c.Garden)
	return nil
}

func writeNew(path, text string) (err error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return misuse{fmt.Errorf("%s is there already and is not touched", path)}
	}
	if err != nil {
		return fmt.Errorf("writing the garden file: %w", err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	_, err = io.WriteString(f, text)
	return err
}

// asker asks one question a line; an empty answer takes what stands in brackets.
type asker struct {
	in  *bufio.Scanner
	out io.Writer
	err error
}

func (q *asker) text(given, question, usual string) string {
	if given != "" || q.err != nil {
		return given
	}
	if usual != "" {
		fmt.Fprintf(q.out, "%s [%s]: ", question, usual)
	} else {
		fmt.Fprintf(q.out, "%s: ", question)
	}
	answer := ""
	if q.in.Scan() {
		answer = strings.TrimSpace(q.in.Text())
	} else if q.err = q.in.Err(); q.err == nil && usual == "" {
		q.err = fmt.Errorf("no answer to %q: give it as a flag, see lathwatch begin --help", question)
	}
	if answer == "" {
		return usual
	}
	return answer
}

func (q *asker) number(given *float64, question, usual string) float64 {
	if given != nil {
		return *given
	}
	s := q.text("", question, usual)
	v, err := strconv.ParseFloat(s, 64)
	if err != nil && q.err == nil {
		q.err = fmt.Errorf("%q is no number of degrees: write it like 54.2", s)
	}
	return v
}

func (q *asker) whole(given *int, question, usual string) int {
	if given != nil {
		return *given
	}
	s := q.text("", question, usual)
	v, err := strconv.Atoi(s)
	if err != nil && q.err == nil {
		q.err = fmt.Errorf("%q is no whole number", s)
	}
	return v
}

// localZone is the zone this board is set to, "" when it does not say.
func localZone() string {
	if z := os.Getenv("TZ"); z != "" {
		return strings.TrimPrefix(z, ":")
	}
	if link, err := os.Readlink("/etc/localtime"); err == nil {
		if _, zone, ok := strings.Cut(link, "zoneinfo/"); ok {
			return zone
		}
	}
	return ""
}
