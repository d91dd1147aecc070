package ical

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"lathwatch/sensors/garden"
)

// An Event is whole days, First to Last, both included.
type Event struct {
	UID      string // the same thing keeps it for ever
	Summary  string
	About    string
	First    garden.Date
	Last     garden.Date
	Weekly   bool        // every week from First to Until
	Until    garden.Date // with Weekly
	Sequence int         // grows by one when the event changes
}

// A Feed is the whole calendar.
type Feed struct {
	Name    string
	Product string    // who wrote it
	Stamp   time.Time // of the forecast
	Events  []Event
}

// Write writes the feed. The standard wants one component at least: a garden always has its weekly look.
func (f Feed) Write(out io.Writer) error {
	var b strings.Builder
	line := func(name, value string) { b.WriteString(Fold(name + ":" + value)) }
	line("BEGIN", "VCALENDAR")
	line("VERSION", "2.0")
	line("PRODID", Escape(f.Product))
	line("CALSCALE", "GREGORIAN")
	line("METHOD", "PUBLISH")
	line("NAME", Escape(f.Name)) // RFC 7986 section 5.1
	line("REFRESH-INTERVAL;VALUE=DURATION", "PT6H")
	for _, e := range f.Events {
		line("BEGIN", "VEVENT")
		line("UID", Escape(e.UID))
		line("DTSTAMP", f.Stamp.UTC().Format("20060102T150405Z"))
		line("SEQUENCE", fmt.Sprint(e.Sequence))
		line("DTSTART;VALUE=DATE", day(e.First))
		line("DTEND;VALUE=DATE", day(e.Last+1)) // not included
		if e.Weekly {
			line("RRULE", "FREQ=WEEKLY;UNTIL="+day(e.Until))
		}
		line("SUMMARY", Escape(e.Summary))
		if e.About != "" {
			line("DESCRIPTION", Escape(e.About))
		}
		line("TRANSP", "TRANSPARENT") // the keeper is not busy all day
		line("END", "VEVENT")
	}
	line("END", "VCALENDAR")
	_, err := io.WriteString(out, b.String())
	return err
}

func day(d garden.Date) string {
	y, m, n := d.Civil()
	return fmt.Sprintf("%04d%02d%02d", y, m, n)
}

var escapes = strings.NewReplacer("\\", "\\\\", ";", "\\;", ",", "\\,", "\r\n", "\\n", "\n", "\\n", "\r", "\\n")

// Escape writes a TEXT value (RFC 5545 section 3.3.11). Control characters other than the tab and the line's end are not allowed in
// one and are left out; bytes that are no UTF-8 become the replacement character.
func Escape(s string) string {
	s = strings.ToValidUTF8(s, "\ufffd")
	s = strings.Map(func(r rune) rune {
		if r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0x7f {
			return -1
		}
		return r
	}, s)
	return escapes.Replace(s)
}

// longest is how many octets a line may have without its end (RFC 5545 section 3.1).
const longest = 75

// Fold ends a content line and breaks it into lines of at most 75 octets, never inside a rune. The blank that begins a continued line
// counts.
func Fold(line string) string {
	var b strings.Builder
	room := longest
	for line != "" {
		n := min(room, len(line))
		for n < len(line) && n > 0 && !utf8.RuneStart(line[n]) {
			n--
		}
		b.WriteString(line[:n])
		if line = line[n:]; line != "" {
			b.WriteString("\r\n ")
			room = longest - 1
		}
	}
	b.WriteString("\r\n")
	return b.String()
}
