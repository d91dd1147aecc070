package alerts

import (
	"cmp"
	"slices"
	"time"
)

// joins is how ripe a finding must be to be named in another's message.
const joins = 2.0 / 3

// A Judge is the one state machine over all rules: hold, linger, worsening, quiet hours, ranks, one cause one message. It is
// told the time by the Standing and never asks for it: the same past always gives the same changes with the same keys.
type Judge struct {
	rules    []Rule
	open     []*episode // by rule, then subject
	digestAt time.Time  // last digest
	returned time.Time  // beginning of the absence whose digest was sent
	told     []toldOf
	recent   []toldOf // messages of the last weeks, for pauses
	out      []Change
}

// toldOf is what the last message of a kind about a place named.
type toldOf struct {
	kind, place string
	pots        []string
	at          time.Time
}

type episode struct {
	rule     int
	find     Finding
	since    time.Time // ripe without a break since
	last     time.Time // last found
	raised   bool
	key      string
	raisedAt time.Time
	saidAt   time.Time
	said     int // level told
	text     string
	seen     int       // level the keeper has seen; 0: not seen
	snoozed  time.Time // when it was put off
	later    time.Time // and until when
	touched  bool
}

// NewJudge takes the rules in the order given.
func NewJudge(rules []Rule) *Judge { return &Judge{rules: rules} }

// Round looks at the garden once, after a round has been folded, and returns what changed, in order.
func (j *Judge) Round(st *Standing) []Change {
	j.out = nil
	if st.Garden == nil {
		return nil
	}
	r := 0
	found := func(f Finding) { j.found(st, r, f) } // one for all rules: a start replays a hundred thousand rounds
	for r = range j.rules {
		j.rules[r].Find(st, found)
	}
	j.age(st)
	j.speak(st)
	j.digest(st)
	return j.out
}

func (j *Judge) found(st *Standing, rule int, f Finding) {
	now := st.At
	if len(f.Pots) > 0 && slices.ContainsFunc(f.Pots, st.isGone) {
		f.Pots = slices.DeleteFunc(slices.Clone(f.Pots), st.isGone)
		if len(f.Pots) == 0 {
			return
		}
	}
	e := j.episode(rule, f.Subject)
	if e.since.IsZero() && f.Ripe >= 1 {
		e.since = now
	}
	if f.Ripe < 1 && !e.raised {
		e.since = time.Time{}
	}
	e.find, e.last, e.touched = f, now, true
}

func (j *Judge) episode(rule int, subject string) *episode {
	i, ok := slices.BinarySearchFunc(j.open, subject, func(e *episode, s string) int {
		return cmp.Or(cmp.Compare(e.rule, rule), cmp.Compare(e.find.Subject, s))
	})
	if !ok {
		j.open = slices.Insert(j.open, i, &episode{rule: rule, find: Finding{Subject: subject}})
	}
	return j.open[i]
}

// age raises what has stood long enough and clears what is over.
func (j *Judge) age(st *Standing) {
	kept := j.open[:0]
	for _, e := range j.open {
		r := &j.rules[e.rule]
		switch {
		case e.raised && !e.touched && (st.At.Sub(e.last) > r.Linger || r.Over != nil && r.Over(st, e.find)):
			j.write(st, r, e, Cleared, "")
			continue
		case !e.raised && !e.touched:
			continue
		case !e.raised && !e.since.IsZero() && st.At.Sub(e.since) >= r.Hold:
			e.raised, e.raisedAt = true, st.At
			j.write(st, r, e, Raised, "")
			e.key = j.out[len(j.out)-1].Key
		}
		e.touched = false
		kept = append(kept, e)
	}
	clear(j.open[len(kept):])
	j.open = kept
}

// write puts an alert's change of state on record.
func (j *Judge) write(st *Standing, r *Rule, e *episode, s State, text string) {
	j.out = append(j.out, Change{Key: key(st.At, r.Kind, e.find.Subject, s), At: st.At, Kind: r.Kind, Rank: r.Rank, State: s,
		Subject: e.find.Subject, Place: e.find.Place, Pots: e.find.Pots, Text: text, Until: until(st, r.Rank)})
}

// key is made of instant, rule, subject and state, so the same past always gives the same keys.
func key(at time.Time, kind, subject string, s State) string {
	return at.UTC().Format("20060102T150405Z") + "/" + kind + "/" + subject + "/" + s.String()
}

// until is when a message goes stale: next noon, seven days, or the next digest.
func until(st *Standing, r Rank) time.Time {
	if r == Tonight {
		return st.Cal.Start(st.Cal.Night(st.At) + 1).Add(12 * time.Hour)
	}
	return st.At.Add(7 * 24 * time.Hour)
}

// Alerts lists what stands, most urgent first, then by kind and subject.
func (j *Judge) Alerts() []Alert {
	var as []Alert
	for _, e := range j.open {
		if !e.raised {
			continue
		}
		r := &j.rules[e.rule]
		as = append(as, Alert{Kind: r.Kind, Subject: e.find.Subject, Place: e.find.Place, Pots: e.find.Pots, Rank: r.Rank,
			Key: e.key, Since: e.raisedAt, SaidAt: e.saidAt, Text: e.text, Seen: e.seen >= max(e.find.Level, 1), Later: e.later})
	}
	slices.SortStableFunc(as, func(a, b Alert) int {
		return cmp.Or(cmp.Compare(a.Rank, b.Rank), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Subject, b.Subject))
	})
	return as
}

// Describe fills in the words of alerts that stand but have not been told yet.
func (j *Judge) Describe(st *Standing) []Alert {
	for _, e := range j.open {
		if e.raised && e.text == "" {
			e.text = j.rules[e.rule].Say(Group{St: st, Kind: j.rules[e.rule].Kind, Place: e.find.Place, Items: []Finding{e.find}})
		}
	}
	return j.Alerts()
}
