package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"lathwatch/alerts/sheet"
	"lathwatch/daemon"
	"lathwatch/dashboards/sitter"
	"lathwatch/sensors/garden"
)

// sitterCmd makes the sheet for whoever looks after the pots.
type sitterCmd struct {
	From    civil   `help:"First day away, like 2027-08-03; the absence on record when missing." placeholder:"DATE"`
	Until   civil   `help:"Last day away." placeholder:"DATE"`
	Visits  []civil `help:"Days the sitter comes; every third day when missing." placeholder:"DATE"`
	Phone   string  `help:"Whom to call." placeholder:"TEXT"`
	Out     string  `type:"path" help:"Write a page to print (.html) or a text (.txt). Without it the text is printed." placeholder:"FILE"`
	New     bool    `help:"Make a secret address at which the sitter ticks what is done; whoever knows it can tick."`
	Revoke  bool    `help:"Revoke every such address."`
	State   string  `type:"path" default:"${state}" help:"The folder of the daemon asked." env:"STATE_DIRECTORY"`
	Journal string  `type:"path" help:"Instead: a backup of the journal." placeholder:"FILE"`
}

// civil is a date of the command line.
type civil garden.Date

// UnmarshalText reads "2027-08-03".
func (c *civil) UnmarshalText(b []byte) error {
	t, err := time.Parse(time.DateOnly, string(b))
	if err != nil {
		return fmt.Errorf("%q is not a date: write it like 2027-08-03", b)
	}
	*c = civil(t.Unix() / 86_400)
	return nil
}

// Run makes the sheet.
func (c *sitterCmd) Run(w *world) error {
	if ext := strings.ToLower(filepath.Ext(c.Out)); c.Out != "" && ext != ".html" && ext != ".htm" && ext != ".txt" {
		return misuse{fmt.Errorf("%s: write a name ending in .html or .txt", c.Out)}
	}
	if (c.From == 0) != (c.Until == 0) {
		return misuse{errors.New("--from and --until go together: give the first and the last day away")}
	}
	a := sheet.Ask{From: garden.Date(c.From), Until: garden.Date(c.Until), Phone: c.Phone}
	for _, v := range c.Visits {
		a.Visits = append(a.Visits, garden.Date(v))
	}
	got, err := c.ask(w, a)
	if err != nil {
		return err
	}
	if c.Revoke {
		fmt.Fprintln(w.out, "Every sitter's address there was is void.")
	}
	if got.Path != "" {
		fmt.Fprintf(w.out, "%s\nPut the page's address before it and give it to the sitter. It is shown once.\n", got.Path)
	}
	s := got.Sheet
	switch {
	case s == nil:
		return nil
	case c.Out == "":
		return s.Text(w.out)
	case strings.ToLower(filepath.Ext(c.Out)) == ".txt":
		return writeFile(c.Out, s.Text)
	}
	return writeFile(c.Out, sitter.Page{Sheet: s}.HTML)
}

func (c *sitterCmd) ask(w *world, a sheet.Ask) (got daemon.SitterAnswer, err error) {
	if c.Journal == "" {
		client, err := daemon.Dial(c.State)
		if err == nil {
			return client.Sitter(w.ctx, daemon.SitterWish{Ask: a, New: c.New, Revoke: c.Revoke})
		}
		if !errors.Is(err, daemon.ErrNobody) {
			return got, err
		}
	}
	if c.New || c.Revoke {
		return got, errors.New("addresses are kept by the running daemon: start it first")
	}
	past, err := daemon.OpenPast(w.ctx, c.Journal, c.State)
	if err != nil {
		return got, err
	}
	defer func() { err = errors.Join(err, past.Close()) }()
	got.Sheet, err = daemon.SheetOf(w.ctx, past.Journal, a)
	return got, err
}
