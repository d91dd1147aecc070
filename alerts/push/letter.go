package push

import (
	"strings"
	"unicode"

	"lathwatch/alerts"
)

// forDigest marks a change whose text is a line of the weekly digest: the digest carries it, it is not sent alone.
const forDigest = "digest"

// Says is what the letter says to a person, "" when it only changes what is on record. The first line after an outage says what
// could not be told in time.
func (l Letter) Says() string {
	text := l.Change.Text
	if l.Change.To == forDigest {
		text = ""
	}
	if len(l.Expired) == 0 {
		return text
	}
	lines := "Not sent in time: " + strings.Join(l.Expired, " | ")
	if text == "" {
		return lines
	}
	return lines + "\n" + text
}

// Headline is one line for a subject or a title: the message's own sentence, not what expired.
func (l Letter) Headline() string {
	text := l.Change.Text
	if text == "" || l.Change.To == forDigest {
		text = l.Says()
	}
	first, _, _ := strings.Cut(text, "\n")
	return strings.Join(strings.FieldsFunc(first, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }), " ")
}

// standing says whether a change leaves its alert standing.
func standing(c alerts.Change) bool { return c.State == alerts.Raised || c.State == alerts.Worse }
