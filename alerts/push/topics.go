package push

import (
	"bytes"
	"encoding/json"
	"strings"

	"lathwatch/alerts"
)

// Topics builds the site's topic names.
type Topics struct{ Site string }

// Root is what all our topics begin with.
const Root = "lathwatch/"

func (t Topics) name(parts ...string) string {
	safe := make([]string, len(parts))
	for i, p := range parts {
		safe[i] = segment(p)
	}
	return Root + segment(t.Site) + "/" + strings.Join(safe, "/")
}

// Status says "online" or, as the last will, "offline" (retained).
func (t Topics) Status() string { return t.name("status") }

// About describes our topics (retained).
func (t Topics) About() string { return t.name("about") }

// Message carries each push text.
func (t Topics) Message() string { return t.name("message") }

// Note takes the keeper's notes.
func (t Topics) Note() string { return t.name("note") }

// Reading carries one probe's readings.
func (t Topics) Reading(probe string) string { return t.name("reading", probe) }

// Pot carries one pot's state (retained).
func (t Topics) Pot(pot string) string { return t.name("pot", pot) }

// Alert carries one alert while it stands (retained).
func (t Topics) Alert(kind, subject string) string { return t.name("alert", kind, subject) }

// segment keeps a name within one level of a topic: letters, digits and hyphens pass, everything else becomes "_". A site,
// pot or probe id always passes; a subject that is none of them may not.
func segment(s string) string {
	if s == "" {
		return "garden"
	}
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-':
			return r
		}
		return '_'
	}, s)
}

type topicLine struct {
	Topic    string `json:"topic"`
	Payload  string `json:"payload"`
	Schema   string `json:"schema"`
	Retained bool   `json:"retained"`
	QoS      int    `json:"qos"`
	Why      string `json:"why"`
}

// aboutPayload describes our topics to whoever finds them: names, payloads, schemas and units, nobody's discovery format.
func (t Topics) aboutPayload(notes, readings bool) []byte {
	base := Root + segment(t.Site) + "/"
	lines := []topicLine{
		{base + "status", "text", "status.json", true, 1, "online, or offline as the last will"},
		{base + "pot/<pot>", "JSON", "pot.json", true, 1, "what is known of a pot; wetness in per cent of drained-full, days left in days, cold credit in days, forcing in degree Celsius days over 5 °C"},
		{base + "alert/<kind>/<subject>", "JSON", "alert.json", true, 1, "an alert while it stands; an empty payload when it is over"},
		{base + "message", "JSON", "message.json", false, 1, "each message as it is sent; the key lets you drop a repeat"},
	}
	if readings {
		lines = append(lines, topicLine{base + "reading/<probe>", "SenML JSON, RFC 8428", "reading.json", false, 0, "a probe's valid reading of a round, units as RFC 8428 names them"})
	}
	if notes {
		lines = append(lines, topicLine{base + "note", "JSON", "note.json", false, 1, "inbound: what the keeper did or saw; retained ones are not taken"})
	}
	lines = append(lines, topicLine{base + "about", "JSON", "about.json", true, 1, "this"})
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false) // "pot/<pot>" is read by eye
	err := enc.Encode(struct {
		Program string      `json:"program"`
		Site    string      `json:"site"`
		Schemas string      `json:"schemas"`
		Topics  []topicLine `json:"topics"`
	}{"lathwatch", t.Site, "JSON Schema 2020-12, in testdata/schemas of the source", lines})
	if err != nil {
		panic("encoding the about payload: " + err.Error()) // plain strings always encode
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n"))
}

// wantedAlerts is what should be retained for the alerts of a standing, topic by topic in the standing's order.
func (t Topics) wantedAlerts(st *alerts.Standing) []Kept {
	kept := make([]Kept, 0, len(st.Alerts))
	seen := map[string]bool{}
	for _, a := range st.Alerts {
		topic := t.Alert(a.Kind, a.Subject)
		if !seen[topic] { // the most urgent one comes first
			seen[topic] = true
			kept = append(kept, Kept{topic, alerts.AlertState(a)})
		}
	}
	return kept
}
