package tape

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// maxDetail is how many bytes a note's detail may have.
const maxDetail = 500

const notesHeader = "time,subject,what,detail"

// ReadNotes reads a notes.csv. The notes come in order of time and id, each once, checked by Checked. bad and err are as with
// ReadReadings.
func ReadNotes(name string, r io.Reader) (notes []sensors.Note, bad []*RowError, err error) {
	err = eachLine(name, notesHeader, r, func(line int, text string) {
		n, err := parseNote(text)
		if err != nil {
			bad = append(bad, &RowError{name, line, err.Error()})
			return
		}
		notes = append(notes, n)
	})
	if err != nil {
		return nil, nil, err
	}
	slices.SortFunc(notes, func(a, b sensors.Note) int {
		return sensors.Compare(sensors.Entry{At: a.At, Note: &a}, sensors.Entry{At: b.At, Note: &b})
	})
	return slices.CompactFunc(notes, func(a, b sensors.Note) bool { return a.ID == b.ID }), bad, nil
}

func parseNote(text string) (sensors.Note, error) {
	c := csv.NewReader(strings.NewReader(text))
	c.FieldsPerRecord = -1
	f, err := c.Read()
	if err != nil {
		return sensors.Note{}, fmt.Errorf("it is no row of comma-separated fields: quote a detail that holds a comma or a quote")
	}
	if len(f) == 3 {
		f = append(f, "")
	}
	if len(f) != 4 {
		return sensors.Note{}, fmt.Errorf("%d fields: write %s, a detail with commas in quotes", len(f), notesHeader)
	}
	at, err := instant(strings.TrimSpace(f[0]))
	if err != nil {
		return sensors.Note{}, err
	}
	return Checked(sensors.Note{At: at, Subject: f[1], What: sensors.What(f[2]), Detail: f[3]})
}

// Checked gives a note its strict form: a subject that can be one, a known word, the detail its word wants, an id when it has
// none. Amounts may come without their unit where the word has one (watered: mL, weighed: g) and leave with it ("150 mL").
// Whether the garden has such a pot or place is the caller's question.
func Checked(n sensors.Note) (sensors.Note, error) {
	n.At = n.At.UTC()
	n.Subject = strings.TrimSpace(n.Subject)
	n.What = sensors.What(strings.TrimSpace(string(n.What)))
	n.Detail = strings.Join(strings.FieldsFunc(n.Detail, blank), " ")
	if regime, all := strings.CutPrefix(n.Subject, "all:"); all && garden.RegimeNamed(regime) == nil {
		return n, fmt.Errorf("subject %q: there is no regime %q: write %s", clip(n.Subject), clip(regime), regimes())
	} else if !all && !garden.SafeID(n.Subject) {
		return n, fmt.Errorf("subject %q: write the id of a pot, plant or place, or all:<regime>", clip(n.Subject))
	}
	if len(n.Detail) > maxDetail || !utf8.ValidString(n.Detail) {
		return n, fmt.Errorf("the detail is %d bytes or no text: write at most %d", len(n.Detail), maxDetail)
	}
	if !n.What.Known() {
		return n, fmt.Errorf("%q is not a word for a note: write one of %s", clip(string(n.What)), whats())
	}
	detail, err := checkDetail(n.What, n.Detail)
	if err != nil {
		return n, fmt.Errorf("%s: %w", n.What, err)
	}
	n.Detail = detail
	if n.ID == "" {
		n.ID = NoteID(n)
	}
	if len(n.ID) > maxID || strings.Trim(n.ID, idLetters) != "" {
		return n, fmt.Errorf("the id %q: write at most %d letters, digits, hyphens, dots, colons and underscores, or leave it out", clip(n.ID), maxID)
	}
	return n, nil
}

// maxID and idLetters bound an id given from outside: it stands in logs, addresses and forms.
const (
	maxID     = 80
	idLetters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-._:"
)

// blank parts words: control characters count, so that a detail is one line on a page, in a log and on a terminal.
func blank(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }

// NoteID names a note by its time to the millisecond, as the journal keeps it, subject and content: the same note twice is one note.
func NoteID(n sensors.Note) string {
	sum := sha256.Sum256([]byte(strings.Join([]string{n.At.UTC().Truncate(time.Millisecond).Format(time.RFC3339Nano), n.Subject, string(n.What), n.Detail}, "\x00")))
	return hex.EncodeToString(sum[:8])
}
