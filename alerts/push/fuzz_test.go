package push_test

import (
	"encoding/json"
	"mime"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"lathwatch/alerts"
	"lathwatch/alerts/push"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/tape"
)

// FuzzNotePayload: what passes on the note topic is one JSON object with known keys whose values are the note's; in its strict form it
// fits one line anywhere, and being strict twice changes nothing.
func FuzzNotePayload(f *testing.F) {
	for _, s := range []string{`{"subject":"D7","what":"watered","detail":"150 mL"}`, `{"subject":"D7","what":"nose","at":"2027-01-28T10:00:00+01:00","about":"12h","id":"x-1"}`,
		`{"subject":"D7","what":"remark","detail":"a\u0000\u001b[31m\nb"}`, `{"subject":"D7","what":"remark","id":"a\nlevel=ERROR msg=x"}`, `{"subject":"all:dry-winter","what":"fed"} {}`,
		`{"Subject":"D7","WHAT":"fed"}`, `{"subject":"+/#","what":"fed"}`, `{"subject":"D7","what":"fed","about":"-1h"}`, `{"subject":"D7","what":"fed","at":"9999-12-31T23:59:59-23:59"}`, `[]`, `null`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, payload []byte) {
		now := noon
		n, err := push.DecodeNote(payload, now)
		if err != nil {
			return
		}
		var m map[string]any
		if json.Unmarshal(payload, &m) != nil || n.Subject == "" || !n.What.Known() || n.About < 0 || n.At.Location() != time.UTC || !n.Made.Equal(now) {
			t.Fatalf("%q passed as %+v", payload, n)
		}
		for k := range m {
			if !strings.Contains(" id at about subject what detail ", " "+strings.ToLower(k)+" ") {
				t.Errorf("%q passed with the key %q", payload, k)
			}
		}
		strict, err := tape.Checked(n)
		if err != nil {
			return
		}
		strictNote(t, strict)
		again, err := tape.Checked(strict)
		if err != nil || again != strict {
			t.Errorf("%+v, once more %+v, %v", strict, again, err)
		}
	})
}

func strictNote(t *testing.T, n sensors.Note) {
	regime, all := strings.CutPrefix(n.Subject, "all:")
	if !all && !garden.SafeID(n.Subject) || all && garden.RegimeNamed(regime) == nil {
		t.Errorf("subject %q", n.Subject)
	}
	for _, s := range []string{n.ID, n.Detail, string(n.What)} {
		if !utf8.ValidString(s) || strings.ContainsFunc(s, unicode.IsControl) || len(s) > 500 {
			t.Errorf("%+q stands in a note", s)
		}
	}
	if n.ID == "" || strings.ContainsFunc(n.ID, unicode.IsSpace) || len(n.ID) > 80 {
		t.Errorf("the id %q", n.ID)
	}
}

// FuzzOutward: whatever a name, a subject or a message holds, a topic stays one topic of our own with as many levels as it has parts, and
// a mail has the headers it always has, its subject being the message's first line.
func FuzzOutward(f *testing.F) {
	for _, s := range []string{"D7", "a/b", "+", "#", "$SYS", "a\x00b", "x\r\nBcc: all@example.org\r\n\r\nbody", "水をやる", "=?utf-8?q?x?=", strings.Repeat("long ", 60), "\xff\xfe", " lead", "."} {
		f.Add(s, "water")
		f.Add("D7", s)
	}
	f.Fuzz(func(t *testing.T, subject, kind string) {
		topics := push.Topics{Site: kind}
		for topic, levels := range map[string]int{topics.Alert(kind, subject): 5, topics.Pot(subject): 4, topics.Reading(subject): 4, topics.Note(): 3, topics.Status(): 3} {
			if parts := strings.Split(topic, "/"); len(parts) != levels || parts[0] != "lathwatch" || strings.ContainsAny(topic, "+#\x00 \r\n$") || strings.Contains(topic, "//") {
				t.Errorf("%q and %q make the topic %q", subject, kind, topic)
			}
		}
		if len(subject) > 500 {
			return
		}
		l := push.Letter{Seq: 1, Change: alerts.Change{Key: kind, At: noon, Kind: "water", Text: subject}}
		raw, err := push.MailText("[elderbank]", l)
		if err != nil {
			return
		}
		m, _, files := read(t, raw)
		if len(files) > 0 {
			t.Errorf("files %v", files)
		}
		for h, v := range m {
			if !strings.Contains(" Date Message-Id Mime-Version From To Subject Auto-Submitted Content-Type Content-Transfer-Encoding ", " "+h+" ") || len(v) != 1 {
				t.Errorf("%q in a message makes the header %s %q", subject, h, v)
			}
		}
		got, err := new(mime.WordDecoder).DecodeHeader(m["Subject"][0])
		if err != nil || strings.ContainsAny(got, "\r\n") {
			t.Errorf("subject %q, %v", got, err)
		}
		if utf8.ValidString(subject) && !strings.ContainsFunc(subject, unicode.IsControl) && squeezed(got) != squeezed(subject) {
			t.Errorf("%q is told as %q", subject, got)
		}
	})
}

func squeezed(s string) string { return strings.Join(strings.Fields(s), "") }
