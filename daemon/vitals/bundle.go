package vitals

import (
	"archive/tar"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"time"

	"lathwatch/daemon/logbook"
)

// A Part is one file of a support bundle.
type Part struct {
	Name string `json:"name"`
	Say  string `json:"say"` // what it is, for the list of contents
	Text string `json:"text"`
}

// WriteBundle packs parts as a .tar.gz, every one seen through the veil, with a list of contents first.
func WriteBundle(out io.Writer, at time.Time, parts []Part, veil logbook.Veil) error {
	z := gzip.NewWriter(out)
	t := tar.NewWriter(z)
	var list strings.Builder
	list.WriteString("A support bundle of Lathwatch. Look through it before you give it to anybody.\n\n")
	for _, p := range parts {
		fmt.Fprintf(&list, "%-14s %s\n", p.Name, p.Say)
	}
	fmt.Fprintf(&list, "\nLeft out or written as %s: passwords, tokens, passphrases, secret addresses, what secret files hold, what is behind the host of an\n"+
		"address, who messages go to, telephone numbers, comments of the garden file. Coordinates are rounded to whole degrees. What stays: the names\n"+
		"you gave to places, pots and plants, hosts on your network, paths on this board.\n", logbook.Blank)
	for _, p := range append([]Part{{Name: "CONTENTS.txt", Text: list.String()}}, parts...) {
		text := veil.Over(p.Text)
		h := tar.Header{Name: "lathwatch-bundle/" + p.Name, Mode: 0o600, Size: int64(len(text)), ModTime: at, Typeflag: tar.TypeReg, Format: tar.FormatPAX}
		if err := t.WriteHeader(&h); err != nil {
			return fmt.Errorf("packing %s: %w", p.Name, err)
		}
		if _, err := io.WriteString(t, text); err != nil {
			return fmt.Errorf("packing %s: %w", p.Name, err)
		}
	}
	return errors.Join(t.Close(), z.Close())
}

// longWord is what a session's secret or a secret address looks like: a person writes no such word.
var longWord = regexp.MustCompile(`[A-Za-z0-9_-]{32,}`)

// LogPart makes a part of log lines: also words that look like secrets made at run time are blanked.
func LogPart(lines []string) Part {
	text := longWord.ReplaceAllString(strings.Join(lines, "\n"), logbook.Blank)
	if len(lines) > 0 {
		text += "\n"
	}
	return Part{"log.txt", fmt.Sprintf("the newest %d lines of the log", len(lines)), text}
}

// Parts gives a report in its forms.
func (r *Report) Parts() ([]Part, error) {
	var table, objects strings.Builder
	if err := errors.Join(r.Write(&table), r.WriteJSON(&objects)); err != nil {
		return nil, err
	}
	lines, _ := r.Well()
	return []Part{{"live.txt", "how the daemon fares", table.String()}, {"live.json", "the same, an object a line", objects.String()},
		{"health.txt", "the short answer", Shortly(lines)}}, nil
}

// Shortly writes the short answer, a line for everything needed.
func Shortly(lines []Line) string {
	var b strings.Builder
	for _, l := range lines {
		say := "well"
		if !l.Well {
			say = "NOT WELL"
		}
		fmt.Fprintf(&b, "%s: %s", l.Name, say)
		if l.Say != "" {
			b.WriteString(", " + l.Say)
		}
		b.WriteByte('\n')
	}
	return b.String()
}
