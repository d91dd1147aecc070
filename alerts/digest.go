package alerts

import (
	"cmp"
	"slices"
	"time"
)

// The weekly digest goes out on Sundays in the morning. Its absence is the alarm, so it is sent even when nothing is to do.
const (
	digestDay   = time.Sunday
	digestClock = Clock(8 * 60)
)

// digest sends the weekly lines at the first round after Sunday 08:00.
func (j *Judge) digest(st *Standing) {
	local := st.At.In(st.Garden.Site.Zone)
	if local.Weekday() != digestDay || ClockOf(st.At, st.Garden.Site.Zone) < digestClock || ClockOf(st.At, st.Garden.Site.Zone) >= QuietFrom {
		return
	}
	if !j.digestAt.IsZero() && st.Cal.DateOf(j.digestAt) == st.Day {
		return
	}
	j.digestAt = st.At
	lines := j.digestLines(st)
	st.Alerts = j.Alerts()
	j.out = append(j.out, Change{Key: key(st.At, "digest", "garden", Said), At: st.At, Kind: "digest", Rank: Digest, State: Said,
		Subject: "garden", Text: SayDigest(st, lines), Until: until(st, Digest)})
}

// digestLines tells each standing digest-rank alert once: a line a place for the rules that speak of a place's pots together.
func (j *Judge) digestLines(st *Standing) []string {
	var lines []string
	for r := range j.rules {
		if rule := &j.rules[r]; rule.Rank == Digest {
			for _, g := range j.groups(st, r) {
				lines = append(lines, j.say(st, rule, g, "digest"))
			}
		}
	}
	return lines
}

// Note lets the keeper's seen and snoozed notes quieten an alert: the note's subject is the alert's, its detail the kind (none:
// every kind). With later set the alert is told again then if it still stands.
func (j *Judge) Note(kind, subject string, later time.Time) {
	for _, e := range j.open {
		if e.find.Subject != subject || kind != "" && j.rules[e.rule].Kind != kind {
			continue
		}
		if later.IsZero() {
			e.seen = true
		} else {
			e.later, e.saidAt = later, time.Time{}
		}
	}
}

// Rules puts other rules in force (a changed garden). What stands of a kind that is still there goes on standing.
func (j *Judge) Rules(rules []Rule) {
	old := j.rules
	j.rules = rules
	kept := j.open[:0]
	for _, e := range j.open {
		if i := slices.IndexFunc(rules, func(r Rule) bool { return r.Kind == old[e.rule].Kind }); i >= 0 {
			e.rule = i
			kept = append(kept, e)
		}
	}
	j.open = kept
	slices.SortFunc(j.open, func(a, b *episode) int {
		return cmp.Or(cmp.Compare(a.rule, b.rule), cmp.Compare(a.find.Subject, b.find.Subject))
	})
}
