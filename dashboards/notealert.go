package dashboards

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
)

// alert takes Seen and Later: notes whose subject is the alert's own and whose detail is its kind. How long Later lasts is the walk's
// to know (a day).
func (p *Pages) alert(w http.ResponseWriter, r *http.Request) error {
	st, err := p.writing(w, r)
	if err != nil {
		return err
	}
	what := sensors.Seen
	switch r.PostForm.Get("press") {
	case "seen":
	case "later":
		what = sensors.Snoozed
	default:
		return refuse(http.StatusUnprocessableEntity, "An alert can be seen or put off.")
	}
	now := p.cfg.Now().UTC().Truncate(time.Minute)
	subjects := r.PostForm["subject"]
	for i, subject := range subjects {
		a := alertOf(st, r.PostForm.Get("kind"), subject)
		if a == nil || slices.Contains(subjects[:i], subject) {
			continue // it cleared while the page lay open, or is named twice
		}
		if err := p.take(r.Context(), sensors.Note{At: now, Made: now, Subject: a.Subject, What: what, Detail: a.Kind}); err != nil {
			return err
		}
	}
	http.Redirect(w, r, "/#alerts", http.StatusSeeOther)
	return nil
}

func alertOf(st *alerts.Standing, kind, subject string) *alerts.Alert {
	for i := range st.Alerts {
		if a := &st.Alerts[i]; a.Kind == kind && a.Subject == subject {
			return a
		}
	}
	return nil
}

// undo takes a note back.
func (p *Pages) undo(w http.ResponseWriter, r *http.Request) error {
	if _, err := p.writing(w, r); err != nil {
		return err
	}
	id, subject := oneLine(r.PostForm.Get("id"), 120), oneLine(r.PostForm.Get("subject"), 120)
	if id == "" {
		return refuse(http.StatusUnprocessableEntity, "Which note is to be taken back?")
	}
	now := p.cfg.Now().UTC().Truncate(time.Second)
	if err := p.take(r.Context(), sensors.Note{At: now, Made: now, Subject: subject, What: sensors.Undo, Detail: id}); err != nil {
		return err
	}
	http.Redirect(w, r, "/#noted", http.StatusSeeOther)
	return nil
}

// noteText says a note as a keeper would.
func (b *bench) noteText(n *sensors.Note) string {
	detail, who := n.Detail, subjectWords(n.Subject)
	var t string
	switch n.What {
	case sensors.Watered:
		t = who + " watered"
	case sensors.Fed:
		t = who + " fed"
	case sensors.Dressed:
		t = who + " given granules"
	case sensors.Moved:
		t, detail = n.Subject+" moved: "+b.placeNamed(detail), ""
	case sensors.Feel:
		t, detail = n.Subject+" felt "+detail, ""
	case sensors.Remark:
		t, detail = n.Subject+": "+detail, ""
	case sensors.Nose:
		t = who + " nose seen"
	case sensors.Bud:
		t = who + " in bud"
	case sensors.Flower:
		t = who + " in flower"
	case sensors.LeafDown:
		t = who + " leaves down"
	case sensors.Marks:
		t = who + " marked"
	default:
		t = who + " " + strings.ReplaceAll(string(n.What), "-", " ")
	}
	if detail != "" {
		t += ", " + detail
	}
	if n.About > 0 {
		t += " (" + aboutWords(n.About) + ")"
	}
	return t
}

// subjectWords says whom a note means: a pot, plant or place by its id, or all pots wintered alike.
func subjectWords(id string) string {
	if regime, all := strings.CutPrefix(id, allPots); all {
		return "All pots wintered " + strings.TrimSuffix(regimeWords(regime), " winter")
	}
	return id
}

func aboutWords(d time.Duration) string {
	if days := int(d.Hours()+12) / 24; days >= 2 {
		return "give or take " + number(float64(days), 0) + " days"
	}
	return "about then"
}

func (b *bench) placeNamed(id string) string {
	if pl := b.st.Garden.Place(id); pl != nil {
		return placeName(pl)
	}
	return id
}
