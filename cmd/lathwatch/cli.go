package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/alecthomas/kong"

	"lathwatch/sensors/table"
)

// version is stamped by the linker.
var version string

// cli is the command line. One file a command.
type cli struct {
	Run      runCmd           `cmd:"" help:"The daemon: walk rounds of the probes, judge, tell, serve the page. Example: lathwatch run --garden garden.toml --state /var/lib/lathwatch"`
	Demo     demoCmd          `cmd:"" help:"An invented garden with simulated probes, broker and page; no hardware, no set-up. Example: lathwatch demo"`
	Begin    beginCmd         `cmd:"" help:"Write a starter garden file from a few questions or flags; never over one that is there. Example: lathwatch begin"`
	Check    checkCmd         `cmd:"" help:"Look a garden file over. Example: lathwatch check --garden garden.toml"`
	Manual   manualCmd        `cmd:"" help:"Pages to read on the board: keys, messages, wireless, sites, board, file. Example: lathwatch manual keys"`
	Rehearse rehearseCmd      `cmd:"" help:"Run recorded readings through the rules. Example: lathwatch rehearse --garden garden.toml --readings readings.csv"`
	Review   reviewCmd        `cmd:"" help:"What a winter was and what came of what was said. Example: lathwatch review 2027 --out winter.html"`
	Ledger   ledgerCmd        `cmd:"" help:"The plants' books: shoots, flowers, dates, losses. Example: lathwatch ledger --csv ledger.csv"`
	Calendar calendarCmd      `cmd:"" help:"The coming days for a calendar app, at a secret address that can be revoked. Example: lathwatch calendar --new"`
	Sitter   sitterCmd        `cmd:"" help:"A sheet for whoever looks after the pots while you are away. Example: lathwatch sitter --from 2027-08-03 --until 2027-08-17 --out sheet.html"`
	Note     noteCmd          `cmd:"" help:"Write down what you did or saw. Example: lathwatch note D7 watered \"150 mL\" --at 2027-01-26T08:10:00Z"`
	Probes   probesCmd        `cmd:"" help:"What answers on the buses, with blocks to paste. Example: lathwatch probes --watch"`
	Mark     markCmd          `cmd:"" help:"Mark a pot's drained-full or driest-allowed. Example: lathwatch mark D7 drained-full"`
	PushTest pushTestCmd      `cmd:"" name:"push-test" help:"Send a test message by every way out. Example: lathwatch push-test mail"`
	Export   exportCmd        `cmd:"" help:"Write recorded readings for other programs. Example: lathwatch export --from 2026-10-01T00:00:00Z --out winter.csv.gz"`
	Import   importCmd        `cmd:"" help:"Put readings of another program or logger into the past. Example: lathwatch import logger.csv"`
	Backup   backupCmd        `cmd:"" help:"Copy the journal and check the copy. Example: lathwatch backup --to /media/stick"`
	Salvage  salvageCmd       `cmd:"" help:"Write what can be read of a damaged journal into a new one. Example: lathwatch salvage old.journal new.journal"`
	Papers   papersCmd        `cmd:"" hidden:"" help:"The manual page and shell completions, for packages. Example: lathwatch papers man"`
	Version  kong.VersionFlag `help:"Print the version." short:"V"`
}

// world is what a command may touch besides its arguments.
type world struct {
	ctx      context.Context
	in       io.Reader
	out, err io.Writer
}

// errFault ends a command with status 1 after it has said what is wrong itself.
var errFault = errors.New("")

// misuse is an error of how the command was called or configured: status 2.
type misuse struct{ error }

func (m misuse) Unwrap() error { return m.error }

type exited int

// run parses and runs one command and gives the exit status: 0, 1 found fault, 2 wrong use.
func run(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer) (status int) {
	var c cli
	parser, err := newParser(&c, out, errOut, usualPlaces())
	if err != nil {
		fmt.Fprintln(errOut, "lathwatch:", err)
		return 2
	}
	defer func() {
		if p := recover(); p != nil {
			n, ok := p.(exited)
			if !ok {
				panic(p)
			}
			status = int(n)
		}
	}()
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := parser.Parse(args)
	if err != nil {
		fmt.Fprintln(errOut, "lathwatch:", err)
		fmt.Fprintln(errOut, helpOn(err))
		return 2
	}
	return report(errOut, k.Run(&world{ctx, in, out, errOut}))
}

// helpOn says where the help is that fits a line that could not be read.
func helpOn(err error) string {
	var p *kong.ParseError
	if errors.As(err, &p) && p.Context != nil {
		if n := p.Context.Selected(); n != nil {
			return "See lathwatch " + n.Name + " --help."
		}
	}
	return "See lathwatch --help."
}

// newParser reads the commands' own description; places says where garden and state usually lie.
func newParser(c *cli, out, errOut io.Writer, places kong.Vars) (*kong.Kong, error) {
	return kong.New(c, kong.Name("lathwatch"), kong.Description("Watches over hardy orchids in pots: tells what to do, or keeps quiet."),
		kong.Vars{"version": buildVersion()}, places, kong.Writers(out, errOut), kong.UsageOnError(), kong.Exit(func(n int) { panic(exited(n)) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, NoExpandSubcommands: true}))
}

func report(w io.Writer, err error) int {
	var m misuse
	var r refused
	switch {
	case err == nil:
		return 0
	case errors.Is(err, errFault):
		return 1
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(w, "lathwatch: stopped")
		return 1
	case errors.As(err, &r):
		say(w, err)
		return r.status()
	case errors.As(err, &m):
		say(w, m.error)
		return 2
	}
	say(w, err)
	sayWho(w, err)
	return 1
}

// say prints every finding of a joined error on a line of its own.
func say(w io.Writer, err error) {
	var found *table.Error
	if errors.As(err, &found) {
		for _, f := range table.List(err) {
			fmt.Fprintln(w, f)
		}
		return
	}
	fmt.Fprintln(w, "lathwatch:", err)
}

// moment reads an instant of the command line.
type moment time.Time

// UnmarshalText reads "2027-01-26T12:00:00Z", or "2027-01-26 12:00" by the clock of the board.
func (m *moment) UnmarshalText(b []byte) error {
	if t, err := time.Parse(time.RFC3339, string(b)); err == nil {
		*m = moment(t)
		return nil
	}
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02T15:04"} {
		if t, err := time.ParseInLocation(layout, string(b), time.Local); err == nil {
			*m = moment(t)
			return nil
		}
	}
	return fmt.Errorf("%q is not a time: write it like \"2027-01-26 12:00\", by this board's clock, or 2027-01-26T12:00:00Z", b)
}

// terminal reports whether w is a terminal, where progress may be shown.
func terminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	s, err := f.Stat()
	return err == nil && s.Mode()&os.ModeCharDevice != 0
}
