package dashboards

import (
	"time"

	"lathwatch/alerts"
)

// gapSaid is how long after its end a gap is still spoken of.
const gapSaid = 72 * time.Hour

// warnings are the lines about the watch itself.
func (b *bench) warnings() []string {
	var w []string
	if b.st.Trouble != "" {
		w = append(w, sentence(b.st.Trouble))
	}
	if every := b.st.Garden.Site.Every; b.now.Sub(b.st.At) > max(3*every, 15*time.Minute) && !b.st.At.IsZero() {
		w = append(w, "No round has been walked since "+b.when(b.st.At)+": everything below is from then.")
	}
	if n := len(b.st.Probes); n > 0 && !unheard(b.st) && allSilent(b.st) {
		w = append(w, "No probe answers. Look at the board's power and the cables first.")
	}
	if !b.st.GapSince.IsZero() && b.now.Sub(b.st.GapUntil) < gapSaid {
		but := ""
		if len(b.st.GapKept) > 0 {
			but = " but what " + list(b.st.GapKept) + " kept"
		}
		w = append(w, "Nothing was read from "+b.when(b.st.GapSince)+" to "+b.when(b.st.GapUntil)+but+". Sums over that time are intervals.")
	}
	return w
}

func allSilent(st *alerts.Standing) bool {
	for i := range st.Probes {
		if w, _ := probeTrouble(&st.Probes[i]); w != "silent" {
			return false
		}
	}
	return true
}

// unheard reports that there are probes and none has ever answered.
func unheard(st *alerts.Standing) bool {
	for i := range st.Probes {
		if !st.Probes[i].LastAt.IsZero() {
			return false
		}
	}
	return len(st.Probes) > 0
}

func (b *bench) alerts() (open, seen []alertView) {
	for i := range b.st.Alerts {
		a := &b.st.Alerts[i]
		v := alertView{Kind: a.Kind, Subjects: []string{a.Subject}, Text: sentence(a.Text), Since: b.when(a.Since),
			Grave: a.Rank == alerts.Tonight, Weekly: a.Rank == alerts.Digest}
		if a.Later.After(b.now) {
			v.Later = b.when(a.Later)
		}
		if n, at := b.quenched(a); n {
			if v.Done = "wet enough now"; !at.IsZero() {
				v.Done = "watered " + b.when(at)
			}
		}
		if a.Seen || v.Later != "" || v.Done != "" {
			seen = joined(seen, v)
		} else {
			open = joined(open, v)
		}
	}
	return open, seen
}

// quenched reports an alert that asked for water and got it, and when the last of its pots was watered.
func (b *bench) quenched(a *alerts.Alert) (bool, time.Time) {
	var last time.Time
	if a.Kind != "water" && a.Kind != "water-light" || len(a.Pots) == 0 {
		return false, last
	}
	for _, id := range a.Pots {
		if !b.st.Quenched(id, a.Since) {
			return false, last
		}
		if ps := potOf(b.st, id); ps.Watered.After(a.Since) && ps.Watered.After(last) {
			last = ps.Watered
		}
	}
	return true, last
}

// joined adds an alert, or puts its subject to one told in the same words: one message, one line, one press.
func joined(views []alertView, v alertView) []alertView {
	for i := range views {
		if o := &views[i]; o.Kind == v.Kind && o.Text == v.Text && o.Later == v.Later {
			o.Subjects = append(o.Subjects, v.Subjects...)
			return views
		}
	}
	return append(views, v)
}

// trouble lists the probes that cannot be heard or believed.
func (b *bench) trouble() []troubleView {
	var t []troubleView
	for i := range b.st.Probes {
		p := &b.st.Probes[i]
		word, since := probeTrouble(p)
		if word == "" {
			continue
		}
		text := word
		if !since.IsZero() {
			text += " since " + b.when(since)
		} else if p.LastAt.IsZero() {
			text = "not heard yet"
		}
		t = append(t, troubleView{string(p.Probe.ID), text})
	}
	return t
}
