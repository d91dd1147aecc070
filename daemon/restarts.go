package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"time"

	"lathwatch/daemon/journal"
	"lathwatch/dashboards"
)

// The book of starts: one row a start, with how the run before it ended.

// LastWords gives what the run before left behind when the program failed it, in a line, and has the runtime write this run's, if it
// comes to that, into the same file. The whole text of the one before is kept as last-words.old.
func LastWords(stateDir string) (said string, err error) {
	path := filepath.Join(stateDir, "last-words")
	b, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("reading the last words of the run before: %w", err)
	}
	if len(b) > 0 {
		said = lastLine(string(b))
		if err := os.Rename(path, path+".old"); err != nil {
			return said, fmt.Errorf("keeping the last words of the run before: %w", err)
		}
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o640)
	if err != nil {
		return said, fmt.Errorf("making ready for last words: %w", err)
	}
	defer f.Close() // the runtime keeps a copy of its own
	return said, debug.SetCrashOutput(f, debug.CrashOptions{})
}

// openBook writes this start into the book and says it aloud when the run before did not end well.
func (d *Daemon) openBook(ctx context.Context) {
	how, why := journal.End(""), d.cfg.LastWords
	switch {
	case why == abort:
		how, why = journal.Hung, "the supervisor ended it for want of a sign of life"
	case why != "":
		how = journal.Panicked
	}
	before, err := d.journal.AddStart(ctx, journal.Start{At: d.cfg.Now(), Boot: d.bootID(), Version: d.cfg.Version}, how, why)
	if err != nil {
		d.cfg.Log.Warn("writing down the start", "err", err)
		return
	}
	d.cfg.Log.Info("started", "version", d.cfg.Version, "before", Ending(before))
	if before.How == journal.Hung || before.How == journal.Panicked {
		d.passing("start", "The program was started anew after "+Ending(before)+".")
	}
}

// passing sets a trouble that stands for a day unless it comes again.
func (d *Daemon) passing(kind, text string) {
	d.setTrouble(kind, text)
	time.AfterFunc(noticeLasts, func() { // only touches the map behind its lock
		d.mu.Lock()
		defer d.mu.Unlock()
		if d.trouble[kind] == text {
			delete(d.trouble, kind)
		}
	})
}

func (d *Daemon) bootID() string {
	b, _ := os.ReadFile(filepath.Join("/", d.cfg.Root, "proc/sys/kernel/random/boot_id")) // a tree without it gives none
	return strings.TrimSpace(string(b))
}

// errPanic is a worker's panic.
type errPanic struct{ said string }

func (e errPanic) Error() string { return "panicked: " + e.said }

// guard turns a worker's panic into an error, so that the journal is closed and the book is kept.
func (d *Daemon) guard(w worker) func(context.Context) error {
	return func(ctx context.Context) (err error) {
		defer func() {
			if p := recover(); p != nil {
				d.cfg.Log.Error("a worker panicked", "worker", w.name, "why", p, "stack", string(debug.Stack()))
				err = errPanic{fmt.Sprint(p)}
			}
		}()
		return w.run(ctx)
	}
}

// closeBook writes how this run ends. What a watcher wrote before stands.
func (d *Daemon) closeBook(err error) {
	ctx, done := context.WithTimeout(context.Background(), 5*time.Second)
	defer done()
	how, why := journal.Stopped, ""
	var p errPanic
	switch {
	case errors.As(err, &p):
		how, why = journal.Panicked, err.Error()
	case err != nil:
		how, why = journal.Failed, err.Error()
	}
	if err := d.journal.EndStart(ctx, d.cfg.Now(), how, why); err != nil && !errors.Is(err, journal.ErrClosed) {
		d.cfg.Log.Warn("writing down the end", "err", err)
	}
}

// Ending says in words how a start's run ended.
func Ending(s journal.Start) string {
	because := ""
	if s.Why != "" {
		because = ": " + s.Why
	}
	switch s.How {
	case journal.Stopped:
		return "a stop as asked"
	case journal.Failed:
		return "an error" + because
	case journal.Hung:
		return "a hang" + because
	case journal.Panicked:
		return "a fault of its own" + because
	case journal.Killed:
		return "an end without a word, on the same boot of the board (killed)"
	case journal.Cut:
		return "an end without a word, and the board began anew (power cut or reset)"
	}
	if s.At.IsZero() {
		return "nothing: it is the first start on record"
	}
	return "no end yet"
}

// A StartLine is a start as commands show it.
type StartLine struct {
	At      time.Time `json:"at"`
	Version string    `json:"version"`
	Ended   time.Time `json:"ended,omitzero"`
	How     string    `json:"how,omitempty"`
	Ending  string    `json:"ending,omitempty"`
}

// StartLines are starts as commands show them, newest first.
func StartLines(all []journal.Start) []StartLine {
	lines := make([]StartLine, len(all))
	for i, s := range all {
		lines[i] = StartLine{At: s.At, Version: s.Version, Ended: s.Ended, How: string(s.How)}
		if s.How != "" {
			lines[i].Ending = Ending(s)
		}
	}
	return lines
}

// bookOfStarts answers the page.
type bookOfStarts struct{ j *journal.Journal }

// Starts gives the newest starts.
func (b bookOfStarts) Starts(ctx context.Context, n int) ([]dashboards.Start, error) {
	all, err := b.j.Starts(ctx, n)
	if err != nil {
		return nil, err
	}
	out := make([]dashboards.Start, len(all))
	for i, l := range StartLines(all) {
		out[i] = dashboards.Start{At: l.At, Version: l.Version, Ended: l.Ended, Ending: l.Ending}
	}
	return out, nil
}

// startsShown is how many starts a look at a daemon shows.
const startsShown = 10

// startLines are the newest starts; none when the journal cannot be read just now.
func (d *Daemon) startLines(ctx context.Context) []StartLine {
	all, err := d.journal.Starts(ctx, startsShown)
	if err != nil {
		d.cfg.Log.Warn("reading the book of starts", "err", err)
	}
	return StartLines(all)
}
