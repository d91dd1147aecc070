package alerts

import (
	"slices"
	"time"
)

// Adopt squares the Judge with what is on record after the past was folded anew (a start, late data, a late note, a changed
// garden). Each standing alert is paired with the recorded one of the same kind and subject that overlaps it and keeps its key
// and its having been told; one that is unpaired and still stands may be told now; a recorded one that no longer stands is
// cleared. The changes returned are to be kept with the next round.
func (j *Judge) Adopt(st *Standing, record []Change) []Change {
	j.out = nil
	open := recorded(record)
	for _, e := range j.open {
		if !e.raised {
			continue
		}
		r := &j.rules[e.rule]
		i := slices.IndexFunc(open, func(o standing) bool { return o.kind == r.Kind && o.subject == e.find.Subject })
		if i < 0 {
			if wasSaid(record, r.Kind, e) {
				continue
			}
			e.saidAt, e.said = time.Time{}, 0
			j.write(st, r, e, Raised, "")
			e.key = j.out[len(j.out)-1].Key
			continue
		}
		e.key, e.raisedAt = open[i].key, open[i].at
		if open[i].saidAt.IsZero() {
			e.saidAt, e.said = time.Time{}, 0
		} else if e.saidAt.IsZero() && e.snoozed.Before(open[i].saidAt) {
			e.saidAt, e.said, e.text = open[i].saidAt, e.find.Level, open[i].text
		}
		open = slices.Delete(open, i, i+1)
	}
	for _, o := range open {
		if j.stays(st, o) {
			continue
		}
		j.out = append(j.out, Change{Key: key(st.At, o.kind, o.subject, Cleared), At: st.At, Kind: o.kind, Rank: o.rank,
			State: Cleared, Subject: o.subject, Place: o.place, Pots: o.pots, Until: until(st, o.rank)})
	}
	j.told, j.recent = nil, nil // what the walk would have said counts for nothing, what was said does
	for i := range record {
		if c := &record[i]; c.Text != "" && c.Kind != "digest" {
			if t := j.lastTold(c.Kind, c.Place); !c.At.Before(t.at) {
				t.at, t.pots = c.At, c.Pots
			}
			j.remember(toldOf{c.Kind, c.Place, c.Pots, c.At})
		}
	}
	for i := len(record) - 1; i >= 0; i-- {
		if record[i].Kind == "digest" {
			if record[i].At.After(j.digestAt) {
				j.digestAt = record[i].At
			}
			break
		}
	}
	return j.out
}

// stays takes over an alert about the daemon itself: rounds do not tell whether it still stands, so it does until it lingers out.
func (j *Judge) stays(st *Standing, o standing) bool {
	for r := range j.rules {
		if j.rules[r].Kind != o.kind || !j.rules[r].Outside {
			continue
		}
		e := j.episode(r, o.subject)
		*e = episode{rule: r, find: Finding{Subject: o.subject, Place: o.place, Pots: o.pots, Ripe: 1, Level: 1}, since: o.at, last: st.At, raised: true,
			key: o.key, raisedAt: o.at, saidAt: o.saidAt, text: o.text}
		if !o.saidAt.IsZero() {
			e.said = 1
		}
		return true
	}
	return false
}

// wasSaid reports whether a message on record already told of this episode.
func wasSaid(record []Change, kind string, e *episode) bool {
	for i := range record {
		c := &record[i]
		if c.Kind == kind && c.Text != "" && !c.At.Before(e.since) && (c.Subject == e.find.Subject || containsAny(c.Pots, e.find.Pots)) {
			return true
		}
	}
	return false
}

func containsAny(a, b []string) bool {
	return slices.ContainsFunc(b, func(s string) bool { return slices.Contains(a, s) })
}

type standing struct {
	kind, subject, place, key, text string
	pots                            []string
	rank                            Rank
	at, saidAt                      time.Time
}

// recorded folds a record of changes into the alerts it leaves standing.
func recorded(record []Change) []standing {
	var open []standing
	for i := range record {
		c := &record[i]
		switch c.State {
		case Raised:
			open = append(open, standing{kind: c.Kind, subject: c.Subject, place: c.Place, key: c.Key, pots: c.Pots, rank: c.Rank, at: c.At})
		case Cleared:
			open = slices.DeleteFunc(open, func(o standing) bool { return o.kind == c.Kind && o.subject == c.Subject })
		case Said, Worse:
			for k := range open {
				if open[k].kind == c.Kind && (open[k].subject == c.Subject || containsAny(c.Pots, open[k].pots)) {
					open[k].saidAt, open[k].text = c.At, c.Text
				}
			}
		}
	}
	return open
}
