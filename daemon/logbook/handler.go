package logbook

import (
	"context"
	"log/slog"
	"strings"
	"time"
)

// handler is a slog.Handler over a book.
type handler struct {
	book  *Book
	inner slog.Handler // writes into the book's line; only ever called with the book locked
	whose string       // what With gave, part of a message's source
}

func (h *handler) Enabled(_ context.Context, l slog.Level) bool { return l >= h.book.o.Level }

func (h *handler) WithAttrs(as []slog.Attr) slog.Handler {
	var b strings.Builder
	b.WriteString(h.whose)
	for _, a := range as {
		b.WriteString("\x00" + a.String())
	}
	return &handler{h.book, h.inner.WithAttrs(as), b.String()}
}

func (h *handler) WithGroup(name string) slog.Handler {
	if name == "" {
		return h
	}
	return &handler{h.book, h.inner.WithGroup(name), h.whose + "\x00" + name + "."}
}

// sources are the attributes that say where a message comes from: two buses that fail alike are two sources. What a stranger
// can choose (an address, a path) is none, or he could fill the log.
var sources = map[string]bool{"bus": true, "chip": true, "kind": true, "worker": true, "way": true, "probe": true}

// Handle writes a line, unless the same message from the same source was written often enough in this minute.
func (h *handler) Handle(ctx context.Context, r slog.Record) error {
	key := h.whose + "\x00" + r.Level.String() + "\x00" + r.Message
	r.Attrs(func(a slog.Attr) bool {
		if sources[a.Key] {
			key += "\x00" + a.Key + "=" + a.Value.String()
		}
		return true
	})
	if !h.book.flow.pass(key, func(held int) { h.summary(r.Level, r.Message, key, held) }) {
		return nil
	}
	return h.book.write(ctx, h.inner, r)
}

// summary says how many lines were held back, once their minute is over.
func (h *handler) summary(l slog.Level, message, key string, held int) {
	r := slog.NewRecord(time.Now(), l, message, 0)
	r.AddAttrs(slog.Int("held_back", held))
	for part := range strings.SplitSeq(strings.TrimPrefix(key, h.whose), "\x00") {
		if k, v, ok := strings.Cut(part, "="); ok && sources[k] {
			r.AddAttrs(slog.String(k, v))
		}
	}
	_ = h.book.write(context.Background(), h.inner, r) // there is nowhere to say that the log cannot be written
}
