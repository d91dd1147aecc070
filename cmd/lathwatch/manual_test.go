package main

import (
	"strings"
	"testing"

	"lathwatch/alerts/rules"
)

// Whatever the daemon may say has a paragraph of its own in the manual, under the kind's name.
func TestManualExplainsEveryMessage(t *testing.T) {
	page, err := manualPages.ReadFile("manual/messages.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rules.All() {
		_, after, ok := strings.Cut(string(page), "\n### "+r.Kind+"\n")
		if text, _, _ := strings.Cut(after, "\n\n"); !ok || len(text) < 40 {
			t.Errorf("the page messages does not explain %s", r.Kind)
		}
	}
}
