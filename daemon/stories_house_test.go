package daemon

import (
	"slices"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
)

// A story proves something only if it can fail. So every line that says a message must come fails when the shelf of rules is empty,
// and every line that says a message must not come fails under rules that always speak about every pot.
func TestEveryStoryCanFail(t *testing.T) {
	for _, path := range storyFiles(t) {
		s := loadStory(t, path)
		t.Run(s.id, func(t *testing.T) {
			t.Parallel()
			s.mustFail(t, "with no rules at all", []alerts.Rule{}, s.wants)
			s.mustFail(t, "under rules that always speak", shouters(s.kinds()), s.forbids)
			if !slices.ContainsFunc(s.expect, func(e string) bool { f := strings.Fields(e); return len(f) > 0 && (s.wants(f) || s.forbids(f)) }) {
				t.Error("the story expects no message and forbids none")
			}
		})
	}
}

// wants says that a line asks for a message.
func (s *story) wants(f []string) bool {
	return (f[0] == "must" || f[0] == "only") && f[1] != "0"
}

// forbids says that a line holds against a message too many. A must line does as well: its count is exact.
func (s *story) forbids(f []string) bool {
	return slices.Contains([]string{"never", "notnamed", "only", "may", "must", "quiet"}, f[0])
}

func (s *story) mustFail(t *testing.T, how string, rules []alerts.Rule, which func([]string) bool) {
	t.Helper()
	if !slices.ContainsFunc(s.expect, func(e string) bool { f := strings.Fields(e); return len(f) > 0 && which(f) }) {
		return
	}
	out := s.tell(t, rules)
	for _, e := range s.expect {
		f := strings.Fields(e)
		if len(f) == 0 || !which(f) {
			continue
		}
		for _, one := range apart(f) {
			if s.line(t, out, strings.Join(one, " "), one) == "" {
				t.Errorf("%q holds %s: it proves nothing", strings.Join(one, " "), how)
			}
		}
	}
}

// apart makes one line of each kind a never line names, and of each pot a notnamed line names.
func apart(f []string) [][]string {
	var lines [][]string
	switch f[0] {
	case "never":
		for _, k := range f[1:] {
			lines = append(lines, []string{"never", k})
		}
	case "notnamed":
		for _, p := range f[2:] {
			lines = append(lines, []string{"notnamed", f[1], p})
		}
	default:
		lines = [][]string{f}
	}
	return lines
}

// kinds lists every kind of message the story speaks of.
func (s *story) kinds() []string {
	var kinds []string
	for _, e := range s.expect {
		f := strings.Fields(e)
		switch {
		case len(f) > 1 && f[0] == "never":
			kinds = append(kinds, f[1:]...)
		case len(f) > 1 && f[0] == "notnamed":
			kinds = append(kinds, f[1])
		case len(f) > 2 && (f[0] == "must" || f[0] == "only" || f[0] == "may"):
			kinds = append(kinds, f[2])
		}
	}
	slices.Sort(kinds)
	return slices.Compact(kinds)
}

// shouters are rules that find fault with every pot and place, worse every two hours.
func shouters(kinds []string) []alerts.Rule {
	var rules []alerts.Rule
	for _, k := range kinds {
		rules = append(rules, alerts.Rule{Kind: k, Rank: alerts.Week,
			Find: func(st *alerts.Standing, found func(alerts.Finding)) {
				level := int(st.At.Unix() / int64(2*time.Hour/time.Second))
				for i := range st.Pots {
					p := &st.Pots[i]
					found(alerts.Finding{Subject: p.Pot.ID, Place: p.Place, Pots: []string{p.Pot.ID}, Ripe: 1, Level: level})
				}
				found(alerts.Finding{Subject: "garden", Ripe: 1, Level: level})
			},
			Say: func(g alerts.Group) string { return "Look at " + strings.Join(g.Pots(), ", ") + "." }})
	}
	return rules
}
