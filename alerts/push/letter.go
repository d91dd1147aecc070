package push

import (
	"fmt"
	"slices"
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
	return oneLine(first)
}

// subject is a headline as a mail's header can carry it. What looks like an encoded word in it (RFC 2047 section 2) would be read as
// one, and told as something else, so such a headline is encoded although it is plain ASCII; any other is left as it is.
func subject(headline string) string {
	const most = 20 // bytes a word: three characters each and twelve around them stay under the 75 a word may have
	if !strings.Contains(headline, "=?") || strings.ContainsFunc(headline, func(r rune) bool { return r > unicode.MaxASCII }) {
		return headline // what is not ASCII is encoded whole on its way out
	}
	var words []string
	for part := range slices.Chunk([]byte(headline), most) {
		words = append(words, fmt.Sprintf("=?utf-8?q?%s?=", quoted(part)))
	}
	return strings.Join(words, " ")
}

func quoted(part []byte) string {
	var b strings.Builder
	for _, c := range part {
		fmt.Fprintf(&b, "=%02X", c)
	}
	return b.String()
}

// standing says whether a change leaves its alert standing.
func standing(c alerts.Change) bool { return c.State == alerts.Raised || c.State == alerts.Worse }
