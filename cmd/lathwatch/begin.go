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
	"time"

	"lathwatch/daemon"
)

// beginCmd writes a starter garden file.
type beginCmd struct {
	Garden    string   `type:"path" default:"garden.toml" help:"The file to write; one that is there is never touched."`
	ID        string   `name:"id" help:"Short name for topics and files: letters, digits, hyphens." placeholder:"ID"`
	Name      string   `help:"The garden's name for people." placeholder:"TEXT"`
	Latitude  *float64 `help:"Degrees, south negative: --latitude=-41.3." placeholder:"DEG"`
	Longitude *float64 `help:"Degrees, west negative: --longitude=-6.4." placeholder:"DEG"`
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
	b := daemon.Beginning{ID: q.text(c.ID, "The garden's short name, for files (letters, digits, hyphens)", "garden", wrongID), Name: q.text(c.Name, "Its name for people", "The garden", anyText)}
	b.Latitude = q.degrees(c.Latitude, "Latitude in degrees, south negative (a map on the phone shows it)", 90)
	b.Longitude = q.degrees(c.Longitude, "Longitude in degrees, west negative", 180)
	b.Zone = q.text(c.Zone, "Time zone, like Europe/Dublin", localZone(), wrongZone)
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

// asker asks one question a line; an empty answer takes what stands in brackets, a wrong one is asked for again.
type asker struct {
	in  *bufio.Scanner
	out io.Writer
	err error
}

// ask gives the first answer that fits, in the words of what is wrong with the others.
func (q *asker) ask(question, usual string, wrong func(string) string) (answer string) {
	for q.err == nil {
		if usual != "" {
			fmt.Fprintf(q.out, "%s [%s]: ", question, usual)
		} else {
			fmt.Fprintf(q.out, "%s: ", question)
		}
		more := q.in.Scan()
		if answer = strings.TrimSpace(q.in.Text()); answer == "" {
			answer = usual
		}
		say := wrong(answer)
		switch {
		case say == "" && answer != "":
			return answer
		case !more:
			fmt.Fprintln(q.out)
			if q.err = q.in.Err(); q.err == nil {
				q.err = fmt.Errorf("no answer to %q: give it as a flag, see lathwatch begin --help", question)
			}
		case say != "" && answer != "":
			fmt.Fprintf(q.out, "  %s\n", say)
		}
	}
	return ""
}

func (q *asker) text(given, question, usual string, wrong func(string) string) string {
	if given != "" {
		return given
	}
	return q.ask(question, usual, wrong)
}

// degrees asks for an angle of at most so many degrees either way.
func (q *asker) degrees(given *float64, question string, most float64) (v float64) {
	if given != nil {
		return *given
	}
	q.ask(question, "", func(s string) string {
		var err error
		if v, err = strconv.ParseFloat(s, 64); err != nil {
			return fmt.Sprintf("%q is no number of degrees: write it like 54.2 or -6.4.", s)
		}
		if !(v >= -most && v <= most) {
			return fmt.Sprintf("It lies between -%g and %g.", most, most)
		}
		return ""
	})
	return v
}

func (q *asker) whole(given *int, question, usual string) (v int) {
	if given != nil {
		return *given
	}
	q.ask(question, usual, func(s string) string {
		var err error
		if v, err = strconv.Atoi(s); err != nil || v < 0 {
			return fmt.Sprintf("%q is no number of pots: write 0 if there are none.", s)
		}
		return ""
	})
	return v
}

func anyText(string) string { return "" }

func wrongID(s string) string {
	if strings.Trim(strings.ToLower(s), "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
		return "Letters, digits and hyphens only."
	}
	return ""
}

func wrongZone(s string) string {
	if _, err := time.LoadLocation(s); err != nil || s == "" {
		return fmt.Sprintf("%q is no time zone known here: write it like Europe/Dublin.", s)
	}
	return ""
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
