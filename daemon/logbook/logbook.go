package logbook

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"
	"sync"
	"syscall"
)

// Options say how lines look. The zero value is text at level info, six of the same a minute, a thousand lines kept.
type Options struct {
	JSON    bool
	Level   slog.Level // lines below it are dropped; slog.LevelInfo is 0
	Journal bool       // written into a service journal: no time of our own, a priority before each line
	Most    int        // of the same message from the same source a minute; 0 is 6, below 0 is no limit
	Keep    int        // newest lines kept in memory; 0 is 1000
}

const (
	defaultMost = 6
	defaultKeep = 1000
)

// A Book is where log lines go. Its Handler may be used from any goroutine.
type Book struct {
	o    Options
	out  io.Writer
	flow *flow

	mu    sync.Mutex // guards what follows
	line  bytes.Buffer
	veil  Veil
	kept  []string // a ring
	next  int      // place of the next line in kept
	inner slog.Handler
}

// New makes a book that writes to out.
func New(out io.Writer, o Options) *Book {
	o.Most = cmp.Or(o.Most, defaultMost)
	o.Keep = max(1, cmp.Or(o.Keep, defaultKeep))
	b := &Book{o: o, out: out}
	b.flow = newFlow(o.Most)
	ho := &slog.HandlerOptions{Level: o.Level}
	if o.Journal {
		ho.ReplaceAttr = bare
	}
	if o.JSON {
		b.inner = slog.NewJSONHandler(&b.line, ho)
	} else {
		b.inner = slog.NewTextHandler(&b.line, ho)
	}
	return b
}

// Logger gives a logger that writes into the book.
func (b *Book) Logger() *slog.Logger { return slog.New(&handler{book: b, inner: b.inner}) }

// Hide blanks these secrets in every line from now on.
func (b *Book) Hide(v Veil) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.veil = v
}

// Lines gives the newest lines, oldest first, as they were written.
func (b *Book) Lines() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.kept) < b.o.Keep {
		return append([]string(nil), b.kept...)
	}
	return append(append([]string(nil), b.kept[b.next:]...), b.kept[:b.next]...)
}

// write formats a record by a handler that writes into b.line, and passes the line on.
func (b *Book) write(ctx context.Context, h slog.Handler, r slog.Record) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.line.Reset()
	if err := h.Handle(ctx, r); err != nil {
		return err
	}
	line := b.veil.Over(b.line.String())
	b.keep(strings.TrimRight(line, "\n"))
	if b.o.Journal {
		line = priority(r.Level) + line
	}
	_, err := io.WriteString(b.out, line)
	return err
}

func (b *Book) keep(line string) {
	if len(b.kept) < b.o.Keep {
		b.kept = append(b.kept, line)
		return
	}
	b.kept[b.next] = line
	b.next = (b.next + 1) % b.o.Keep
}

// bare leaves out what a service journal adds itself.
func bare(groups []string, a slog.Attr) slog.Attr {
	if len(groups) == 0 && (a.Key == slog.TimeKey || a.Key == slog.LevelKey) {
		return slog.Attr{}
	}
	return a
}

// priority is a line's rank as a service journal reads it at the line's beginning (sd-daemon(3), the levels of RFC 5424).
func priority(l slog.Level) string {
	switch {
	case l >= slog.LevelError:
		return "<3>"
	case l >= slog.LevelWarn:
		return "<4>"
	case l >= slog.LevelInfo:
		return "<6>"
	}
	return "<7>"
}

// IntoJournal reports whether f is the stream that JOURNAL_STREAM names, which a service manager sets to "device:inode" of what
// it connected (systemd.exec(5)). Naming it alone is not enough: the output may have been sent elsewhere since.
func IntoJournal(f *os.File) bool {
	var dev, ino uint64
	if n, err := fmt.Sscanf(os.Getenv("JOURNAL_STREAM"), "%d:%d", &dev, &ino); err != nil || n != 2 {
		return false
	}
	fi, err := f.Stat()
	if err != nil {
		return false
	}
	s, ok := fi.Sys().(*syscall.Stat_t)
	return ok && uint64(s.Dev) == dev && s.Ino == ino
}
