package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"lathwatch/daemon"
	"lathwatch/dashboards/sitter"
	"lathwatch/sensors/garden"
)

// sitterCmd makes the sheet for whoever looks after the pots.
type sitterCmd struct {
	From    civil   `required:"" help:"First day away, like 2027-08-03." placeholder:"DATE"`
	Until   civil   `required:"" help:"Last day away." placeholder:"DATE"`
	Visits  []civil `help:"Days the sitter comes; every third day when missing." placeholder:"DATE"`
	Phone   string  `help:"Whom to call." placeholder:"TEXT"`
	Out     string  `type:"path" help:"Write a page to print (.html) or a text (.txt). Without it the text is printed." placeholder:"FILE"`
	State   string  `type:"path" default:"state" help:"The folder of the daemon asked." env:"STATE_DIRECTORY"`
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
	a := sitter.Ask{From: garden.Date(c.From), Until: garden.Date(c.Until), Phone: c.Phone}
	for _, v := range c.Visits {
		a.Visits = append(a.Visits, garden.Date(v))
	}
	s, err := c.sheet(w, a)
	if err != nil {
		return err
	}
	switch {
	case c.Out == "":
		return s.Text(w.out)
	case strings.ToLower(filepath.Ext(c.Out)) == ".txt":
		return writeFile(c.Out, s.Text)
	}
	return writeFile(c.Out, s.HTML)
}

func (c *sitterCmd) sheet(w *world, a sitter.Ask) (s *sitter.Sheet, err error) {
	if c.Journal == "" {
		client, err := daemon.Dial(c.State)
		if err == nil {
			return client.Sitter(w.ctx, a)
		}
		if !errors.Is(err, daemon.ErrNobody) {
			return nil, err
		}
	}
	past, err := daemon.OpenPast(w.ctx, c.Journal, c.State)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, past.Close()) }()
	return daemon.SheetOf(w.ctx, past.Journal, a)
}
