package alerts

import (
	"cmp"
	"slices"
	"time"
)

// speak sends what is raised and not told, or worse than told, when its hour allows: one message a rule and place.
func (j *Judge) speak(st *Standing) {
	now := ClockOf(st.At, st.Garden.Site.Zone)
	if now >= QuietFrom || now < QuietUntil {
		return
	}
	for r := range j.rules {
		rule := &j.rules[r]
		if rule.Rank == Digest || now < rule.From || (rule.Until != 0 && now > rule.Until) {
			continue
		}
		to := ""
		if rule.Errand || st.Away.On(st.At) && rule.Sitter {
			to = ToSitter
		} else if j.awaited(st) && rule.Rank != Tonight {
			continue // what still stands then is told on return
		}
		for _, g := range j.groups(st, r) {
			if g.gathered(st.At, rule.Gather) {
				j.say(st, rule, g, to)
			}
		}
	}
}

// awaited reports whether the keeper is away or back without the digest that tells what waited.
func (j *Judge) awaited(st *Standing) bool {
	return st.Away.begun(st.At) && j.returned != st.Away.Since
}

type group struct {
	place string
	due   []*episode
	join  []*episode
}

// gathered reports whether the first of a group's alerts has waited long enough for others.
func (g *group) gathered(now time.Time, wait time.Duration) bool {
	return slices.ContainsFunc(g.due, func(e *episode) bool { return now.Sub(e.raisedAt) >= wait })
}

func (j *Judge) groups(st *Standing, rule int) []*group {
	r := &j.rules[rule]
	var gs []*group
	at := func(e *episode) *group {
		for _, g := range gs {
			if r.Together && g.place == e.find.Place {
				return g
			}
		}
		gs = append(gs, &group{place: e.find.Place})
		return gs[len(gs)-1]
	}
	for _, e := range j.open {
		if e.rule == rule && j.due(st, e) && !j.muted(e) {
			g := at(e)
			g.due = append(g.due, e)
		}
	}
	for _, e := range j.open {
		if len(gs) > 0 && r.Together && e.rule == rule && !e.raised && e.find.Ripe >= joins {
			for _, g := range gs {
				if g.place == e.find.Place {
					g.join = append(g.join, e)
				}
			}
		}
	}
	return gs
}

// worseAfter is how long after a message the same alert may be told as worse at the earliest: a figure that wavers about a limit is
// no news. A matter of tonight is not made to wait so long.
const (
	worseAfter        = 20 * time.Hour
	worseAfterTonight = time.Hour
)

// due reports whether a raised alert is to be told: it is not told yet and ripe now, or worse than told, and not put off.
func (j *Judge) due(st *Standing, e *episode) bool {
	now := st.At
	wait := worseAfter
	if j.rules[e.rule].Rank == Tonight {
		wait = worseAfterTonight
	}
	switch {
	case !e.raised || e.find.Ripe < 1 || e.find.Level <= e.seen || now.Before(e.later):
		return false
	case j.paused(st, e):
		return false
	case e.saidAt.IsZero():
		return true
	}
	return e.find.Level > e.said && now.Sub(e.saidAt) >= wait
}

// paused reports whether a message of this kind about this place is too fresh for another: one that named a pot in the same phase, for a
// plant that grows must not make the resting ones wait.
func (j *Judge) paused(st *Standing, e *episode) bool {
	if e.find.Pause <= 0 {
		return false
	}
	kind := j.rules[e.rule].Kind
	return slices.ContainsFunc(j.recent, func(t toldOf) bool {
		return t.kind == kind && t.place == e.find.Place && st.At.Sub(t.at) < e.find.Pause && st.samePhase(t.pots, e.find.Pots)
	})
}

// samePhase reports whether one of the pots named before is in the phase of these.
func (st *Standing) samePhase(before, pots []string) bool {
	if len(pots) == 0 {
		return true
	}
	p := st.pot(pots[0])
	return slices.ContainsFunc(before, func(id string) bool {
		o := st.pot(id)
		return o == nil || p == nil || o.Phase == p.Phase
	})
}

// pauseMost is how long a message may make others wait.
const pauseMost = 31 * 24 * time.Hour

func (j *Judge) remember(t toldOf) {
	j.recent = append(slices.DeleteFunc(j.recent, func(o toldOf) bool { return t.at.Sub(o.at) > pauseMost }), t)
}

// muted reports whether a standing alert of another kind for the same pot or place is the cause.
func (j *Judge) muted(e *episode) bool {
	for _, kind := range j.rules[e.rule].MutedBy {
		for _, o := range j.open {
			if o.raised && j.rules[o.rule].Kind == kind && overlap(o.find, e.find) {
				return true
			}
		}
	}
	return false
}

func overlap(a, b Finding) bool {
	if a.Subject == b.Subject || a.Subject == b.Place || a.Subject == "garden" {
		return true
	}
	for _, p := range a.Pots {
		if slices.Contains(b.Pots, p) {
			return true
		}
	}
	return false
}

// say words a group of findings, puts the message on record and gives its text.
func (j *Judge) say(st *Standing, r *Rule, g *group, to string) string {
	gr := Group{St: st, Kind: r.Kind, Place: g.place, raised: j.raisedFor}
	for _, e := range g.join { // what is nearly ripe is told with the rest and not again
		e.raised, e.raisedAt = true, st.At
		j.write(st, r, e, Raised, "")
		e.key = j.out[len(j.out)-1].Key
	}
	all := append(g.due, g.join...)
	slices.SortStableFunc(all, func(a, b *episode) int { return cmp.Compare(potOrder(st, a.find), potOrder(st, b.find)) })
	for _, e := range all {
		gr.Worse = gr.Worse || !e.saidAt.IsZero()
		gr.Items = append(gr.Items, e.find)
	}
	last := j.lastTold(r.Kind, g.place)
	gr.Before, gr.BeforeAt = last.pots, last.at
	text := r.Say(gr)
	last.pots, last.at = gr.Pots(), st.At
	j.remember(toldOf{r.Kind, g.place, last.pots, st.At})
	subject := all[0].find.Subject
	if len(all) > 1 && g.place != "" {
		subject = g.place
	}
	state := Said
	if gr.Worse {
		state = Worse
	}
	for _, e := range all {
		e.saidAt, e.said, e.text = st.At, e.find.Level, text
	}
	j.out = append(j.out, Change{Key: key(st.At, r.Kind, subject, state), At: st.At, Kind: r.Kind, Rank: r.Rank, State: state,
		Subject: subject, Place: g.place, Pots: gr.Pots(), Text: text, To: to, Saw: saw(gr), Until: until(st, r.Rank)})
	return text
}

func (j *Judge) lastTold(kind, place string) *toldOf {
	i := slices.IndexFunc(j.told, func(t toldOf) bool { return t.kind == kind && t.place == place })
	if i < 0 {
		j.told = append(j.told, toldOf{kind: kind, place: place})
		i = len(j.told) - 1
	}
	return &j.told[i]
}

// raisedFor reports whether an alert of a kind stands for a pot.
func (j *Judge) raisedFor(kind, pot string) bool {
	return slices.ContainsFunc(j.open, func(e *episode) bool {
		return e.raised && j.rules[e.rule].Kind == kind && slices.Contains(e.find.Pots, pot)
	})
}

// isGone reports whether a pot was divided up or lost.
func (st *Standing) isGone(pot string) bool {
	p := st.pot(pot)
	return p != nil && !p.Gone.IsZero()
}

func potOrder(st *Standing, f Finding) int {
	for i := range st.Pots {
		if st.Pots[i].Pot.ID == f.Subject {
			return i
		}
	}
	return -1
}
