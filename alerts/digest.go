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

// digest sends the weekly lines at the first round after Sunday 08:00. While the keeper is away none is sent, and one on return, with
// everything that waited.
func (j *Judge) digest(st *Standing) {
	clock := ClockOf(st.At, st.Garden.Site.Zone)
	if clock < digestClock || clock >= QuietFrom {
		return
	}
	returning := j.awaited(st)
	switch {
	case returning && (!st.Away.On(st.At) || st.Cal.DateOf(st.Away.Until.Add(-time.Second)) == st.Day):
		j.returned = st.Away.Since
	case st.Away.On(st.At):
		return
	case st.At.In(st.Garden.Site.Zone).Weekday() != digestDay, !j.digestAt.IsZero() && st.Cal.DateOf(j.digestAt) == st.Day:
		return
	default:
		returning = false
	}
	j.digestAt = st.At
	lines := j.digestLines(st, returning)
	st.Alerts = j.Alerts()
	j.out = append(j.out, Change{Key: key(st.At, "digest", "garden", Said), At: st.At, Kind: "digest", Rank: Digest, State: Said,
		Subject: "garden", Text: SayDigest(st, lines), Until: until(st, Digest)})
}

// digestLines tells each standing digest-rank alert once: a line a place for the rules that speak of a place's pots together.
// On return what waited for the keeper is told here too.
func (j *Judge) digestLines(st *Standing, returning bool) []string {
	var lines []string
	for r := range j.rules {
		if rule := &j.rules[r]; rule.Rank == Digest || returning && rule.Rank == Week {
			for _, g := range j.groups(st, r) {
				lines = append(lines, j.say(st, rule, g, ToDigest))
			}
		}
	}
	return lines
}

// Note lets the keeper's seen and snoozed notes quieten an alert: the note's subject is the alert's, its place or one of its pots; kind
// "" means every kind. What is seen is told again only when it gets worse. With later set the alert is told again then if it still
// stands.
func (j *Judge) Note(kind, subject string, at, later time.Time) {
	for _, e := range j.open {
		f := &e.find
		if f.Subject != subject && f.Place != subject && !slices.Contains(f.Pots, subject) || kind != "" && j.rules[e.rule].Kind != kind {
			continue
		}
		if later.IsZero() {
			e.seen = max(f.Level, 1)
		} else {
			e.snoozed, e.later, e.saidAt = at, later, time.Time{}
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
