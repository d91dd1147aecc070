package daemon

import (
	"strings"
	"testing"

	"lathwatch/alerts/rules"
)

// toldByBoard are the kinds no reading can bring about: the daemon's own health, tested where it is made.
var toldByBoard = map[string]string{
	"clock":         "the kernel's answer about its clock",
	"storage":       "the store's own failure",
	"broker-silent": "the broker's silence",
}

// Every rule on the shelf has a tale in which it must speak.
func TestEveryRuleHasAStory(t *testing.T) {
	spoken := map[string]string{}
	for _, path := range storyFiles(t) {
		s := loadStory(t, path)
		for _, e := range s.expect {
			if f := strings.Fields(e); len(f) > 2 && f[0] == "must" && f[1] != "0" {
				spoken[f[2]] = s.id
			}
		}
	}
	for _, e := range rules.All() {
		if spoken[e.Kind] == "" && toldByBoard[e.Kind] == "" {
			t.Errorf("rule %q has no story beside it: write one in testdata/stories with a line \"must 1 %s ...\"", e.Kind, e.Kind)
		}
		if spoken[e.Kind] != "" && toldByBoard[e.Kind] != "" {
			t.Errorf("rule %q has a story by now: take it out of the exceptions", e.Kind)
		}
	}
}
