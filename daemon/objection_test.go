package daemon

import (
	"encoding/json"
	"html"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"lathwatch/dashboards/ledger"
	"lathwatch/sensors"
)

// Manure by the page, the socket and the note topic: kept, and answered in the same words, which stand on the page whichever door it
// came by.
func TestOrganicFeedIsAnsweredAtEveryDoor(t *testing.T) {
	l := startLive(t, t.TempDir(), time.Date(2027, 4, 20, 10, 0, 0, 0, time.UTC))
	l.until(t, "a round", func() bool { return !l.walkedTo().IsZero() })
	c, err := Dial(l.cfg.StateDir)
	if err != nil {
		t.Fatal(err)
	}
	note := func(detail string) sensors.Note {
		return sensors.Note{Subject: "D7", What: sensors.Fed, Detail: detail}
	}
	var answer reply
	body, _ := json.Marshal(note("horn meal"))
	if err := c.ask(t.Context(), http.MethodPost, "/note", body, &answer); err != nil || answer.Say != ledger.Objection(note("horn meal")) || answer.Say == "" {
		t.Errorf("the socket says %q, %v", answer.Say, err)
	}
	body, _ = json.Marshal([]sensors.Note{note("urea"), note("weak")})
	if err := c.ask(t.Context(), http.MethodPost, "/notes", body, &answer); err != nil || answer.Say != "D7: "+ledger.Objection(note("urea")) {
		t.Errorf("many notes at once: %q, %v", answer.Say, err)
	}
	if err := l.takePayload(t.Context(), []byte(`{"subject": "D7", "what": "fed", "detail": "guano"}`)); err != nil {
		t.Error(err)
	}
	resp, err := http.PostForm("http://"+l.page+"/note", url.Values{"what": {"fed"}, "pot": {"D7"}, "text": {"old manure"}})
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil || resp.Request.URL.Fragment != "noted" {
		t.Errorf("after the press: %v, %v", resp.Request.URL, err)
	}
	for _, detail := range []string{"horn meal", "urea", "guano", "old manure"} {
		if say := ledger.Objection(note(detail)); !strings.Contains(html.UnescapeString(string(text)), say) {
			t.Errorf("the page does not say %q", say)
		}
	}
	l.end(t)
}
