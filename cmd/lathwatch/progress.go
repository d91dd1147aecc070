package main

import (
	"fmt"
	"io"
	"strings"
	"time"
)

// progress draws a bar on a terminal; elsewhere it is silent.
type progress struct {
	w           io.Writer
	what        string
	from, until time.Time
	shown       int
	on          bool
}

func newProgress(w io.Writer, what string, from, until time.Time) *progress {
	return &progress{w: w, what: what, from: from, until: until, on: terminal(w) && until.After(from), shown: -1}
}

// at moves the bar to an instant between its two ends.
func (p *progress) at(t time.Time) {
	if !p.on {
		return
	}
	n := int(40 * t.Sub(p.from) / p.until.Sub(p.from))
	if n = max(0, min(n, 40)); n != p.shown {
		p.shown = n
		fmt.Fprintf(p.w, "\r%s [%s%s] %s", p.what, strings.Repeat("=", n), strings.Repeat(" ", 40-n), t.Format("2 Jan 2006 "))
	}
}

// clear wipes the bar so that a line can be printed; the next at draws it again.
func (p *progress) clear() {
	if p.on && p.shown >= 0 {
		fmt.Fprintf(p.w, "\r%s\r", strings.Repeat(" ", len(p.what)+60))
		p.shown = -1
	}
}

// done ends the bar's line.
func (p *progress) done() { p.clear() }
