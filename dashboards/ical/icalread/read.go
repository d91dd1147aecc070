// Package icalread reads a calendar as any program would that knows RFC 5545 and nothing of who wrote it. It serves tests.
package icalread

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// A Property is one content line, unfolded and split (sections 3.1 and 3.2). Its value is as written.
type Property struct{ Name, Params, Value string }

// Parse unfolds and splits a calendar. What the standard forbids is an error.
func Parse(text string) ([]Property, error) {
	if !strings.HasSuffix(text, "\r\n") {
		return nil, errors.New("the last line has no end")
	}
	var lines []string
	for _, l := range strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		if len(l) > 75 || strings.ContainsAny(l, "\r\n") || !utf8.ValidString(l) {
			return nil, fmt.Errorf("%d octets, a bare line end or half a rune: %q", len(l), l)
		}
		if rest, ok := strings.CutPrefix(l, " "); ok {
			if len(lines) == 0 {
				return nil, fmt.Errorf("nothing to continue: %q", l)
			}
			lines[len(lines)-1] += rest
			continue
		}
		lines = append(lines, l)
	}
	var ps []Property
	for _, l := range lines {
		head, value, ok := strings.Cut(l, ":")
		if !ok {
			return nil, fmt.Errorf("no property: %q", l)
		}
		name, params, _ := strings.Cut(head, ";")
		ps = append(ps, Property{name, params, value})
	}
	return ps, nil
}

// Unescape gives the text of a TEXT value (section 3.3.11).
func Unescape(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] == '\\' && i+1 < len(s) {
			i++
			if s[i] == 'n' || s[i] == 'N' {
				b.WriteByte('\n')
				continue
			}
		}
		b.WriteByte(s[i])
	}
	return b.String()
}

// An Event is one VEVENT of whole days.
type Event struct {
	UID, Summary, About string
	First, Last         string // days as 2006-01-02, both included
	Rule                string
}

// Events lists the events of a calendar as they stand in it.
func Events(text string) (all []Event, err error) {
	ps, err := Parse(text)
	if err != nil {
		return nil, err
	}
	in := false
	var e Event
	for _, p := range ps {
		switch {
		case p.Name == "BEGIN" && p.Value == "VEVENT":
			e, in = Event{}, true
		case p.Name == "END" && p.Value == "VEVENT":
			all, in = append(all, e), false
		case in:
			if err := e.take(p); err != nil {
				return nil, err
			}
		}
	}
	return all, nil
}

func (e *Event) take(p Property) error {
	switch p.Name {
	case "UID":
		e.UID = p.Value
	case "SUMMARY":
		e.Summary = Unescape(p.Value)
	case "DESCRIPTION":
		e.About = Unescape(p.Value)
	case "RRULE":
		e.Rule = p.Value
	case "DTSTART", "DTEND": // the end of a span of days is the day after it (section 3.6.1)
		if p.Params != "VALUE=DATE" {
			return fmt.Errorf("%s of %s is no day", p.Name, e.UID)
		}
		at, err := time.Parse("20060102", p.Value)
		if err != nil {
			return fmt.Errorf("%s of %s: %w", p.Name, e.UID, err)
		}
		if p.Name == "DTSTART" {
			e.First = at.Format(time.DateOnly)
		} else {
			e.Last = at.AddDate(0, 0, -1).Format(time.DateOnly)
		}
	}
	return nil
}
