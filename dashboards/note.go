package dashboards

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"lathwatch/alerts"
	"lathwatch/dashboards/ledger"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/tape"
)

const maxForm = 64 << 10 // bytes of a posted form

// benchVerbs are the words the bench may note by a press alone.
var benchVerbs = []sensors.What{sensors.Watered, sensors.Fed, sensors.Dressed, sensors.Moved, sensors.Nose, sensors.Opening, sensors.Flower, sensors.LeafDown,
	sensors.Repotted, sensors.Feel, sensors.Remark}

// note writes down what was done with the ticked pots: POST, then back to the benches.
func (p *Pages) note(w http.ResponseWriter, r *http.Request) error {
	st, err := p.writing(w, r)
	if err != nil {
		return err
	}
	notes, err := benchNotes(st, r.PostForm, p.cfg.Now())
	if err != nil {
		return err
	}
	back := "/#benches"
	for _, n := range notes {
		if err := p.take(r.Context(), n); err != nil {
			return err
		}
		if ledger.Objection(n) != "" {
			back = "/#noted" // where the answer stands
		}
	}
	http.Redirect(w, r, back, http.StatusSeeOther)
	return nil
}

// take hands over one note in its strict form, so that a form made by hand is refused in words.
func (p *Pages) take(ctx context.Context, n sensors.Note) error {
	if _, err := tape.Checked(n); err != nil {
		return refuse(http.StatusUnprocessableEntity, "This cannot be noted: %s.", err)
	}
	if err := p.cfg.Notes.TakeNote(ctx, n); err != nil {
		p.cfg.Log.Error("a note could not be written down", "what", string(n.What), "subject", n.Subject, "err", err)
		return refuse(http.StatusInternalServerError, "The note about %s could not be written down. Please try again.", n.Subject)
	}
	return nil
}

// writing reads a form that will be written down.
func (p *Pages) writing(w http.ResponseWriter, r *http.Request) (*alerts.Standing, error) {
	if p.cfg.Notes == nil {
		return nil, refuse(http.StatusForbidden, "Nothing can be noted on this page.")
	}
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	if err := r.ParseForm(); err != nil {
		return nil, refuse(http.StatusBadRequest, "The form could not be read.")
	}
	st := p.cfg.Standings.Standing()
	if st == nil || st.Garden == nil {
		return nil, refuse(http.StatusServiceUnavailable, "The garden is not known yet. Try again in a minute.")
	}
	return st, nil
}

// allPots is what the form's choice of pots wintered alike stands for in a note: every one of them by one note.
const allPots = "all:"

// benchNotes makes one note for each ticked pot, or one for all pots wintered alike.
func benchNotes(st *alerts.Standing, f url.Values, now time.Time) ([]sensors.Note, error) {
	what, detail, _ := strings.Cut(f.Get("what"), " ")
	pots := f["pot"]
	if regime := f.Get("all"); regime != "" {
		if garden.RegimeNamed(regime) == nil || sensors.What(what) == sensors.Feel {
			return nil, refuse(http.StatusUnprocessableEntity, "%q cannot be noted of all pots wintered %q at once.", what, regime)
		}
		pots = []string{allPots + regime}
	}
	if len(pots) == 0 {
		return nil, refuse(http.StatusUnprocessableEntity, "No pot was ticked. Go back, tick the pots and press again.")
	}
	if !oneOf(sensors.What(what), benchVerbs) {
		return nil, refuse(http.StatusUnprocessableEntity, "%q is not something this page can note.", what)
	}
	at, about, err := noteTime(st.Cal, f, now)
	if err != nil {
		return nil, err
	}
	var notes []sensors.Note
	for i, id := range pots {
		if slices.Contains(pots[:i], id) {
			continue // one note a pot, however often a form names it
		}
		ps := potOf(st, id)
		if strings.HasPrefix(id, allPots) {
			ps = alikePot(st, strings.TrimPrefix(id, allPots))
		}
		if ps == nil {
			return nil, refuse(http.StatusUnprocessableEntity, "There is no pot %q.", id)
		}
		n := sensors.Note{At: at, Made: now.UTC().Truncate(time.Second), About: about, Subject: id, What: sensors.What(what), Detail: detail}
		if err := fillNote(st, ps, &n, f); err != nil {
			return nil, err
		}
		notes = append(notes, n)
	}
	return notes, nil
}

// fillNote adds what the word wants: millilitres, a place, the feel or a text.
func fillNote(st *alerts.Standing, ps *alerts.PotStanding, n *sensors.Note, f url.Values) (err error) {
	switch n.What {
	case sensors.Watered:
		n.Detail, err = amount(f.Get("amount"), st.Garden.Site.Fahrenheit)
	case sensors.Fed:
		n.Detail, err = amount(f.Get("amount"), st.Garden.Site.Fahrenheit)
		n.Detail = strings.TrimSpace(n.Detail + " " + oneLine(f.Get("text"), 300))
	case sensors.Dressed, sensors.Repotted:
		n.Detail = oneLine(f.Get("text"), 300)
	case sensors.Moved:
		from := ps.Place
		if strings.HasPrefix(n.Subject, allPots) {
			from = "" // they may stand at several places: the keeper says where to
		}
		n.Detail, err = otherPlace(st.Garden, from, f.Get("place"))
	case sensors.Feel:
		if n.Detail != "light" && n.Detail != "right" && n.Detail != "heavy" {
			err = refuse(http.StatusUnprocessableEntity, "A pot feels light, right or heavy.")
		}
	case sensors.Remark:
		if n.Detail = oneLine(f.Get("text"), 300); n.Detail == "" {
			err = refuse(http.StatusUnprocessableEntity, "The note is empty. Go back, write a few words and press again.")
		}
	}
	return err
}

// amount turns "150" in the page's unit into "150 mL"; empty stays empty.
func amount(s string, ounces bool) (string, error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return "", nil
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !(v > 0 && v <= 100_000) {
		return "", refuse(http.StatusUnprocessableEntity, "%q is not an amount of water.", s)
	}
	if ounces {
		v *= 29.5735 // US fluid ounce in millilitres
	}
	return strconv.FormatFloat(v, 'f', 0, 64) + " mL", nil
}

// otherPlace is the chosen place, or with two places and no choice the one the pot does not stand at.
func otherPlace(g *garden.Garden, from, to string) (string, error) {
	if to == "" && len(g.Places) == 2 && g.Place(from) != nil {
		to = g.Places[0].ID
		if to == from {
			to = g.Places[1].ID
		}
	}
	if to == "" {
		return "", refuse(http.StatusUnprocessableEntity, "Moved where to? Go back, choose the place and press again.")
	}
	if g.Place(to) == nil {
		return "", refuse(http.StatusUnprocessableEntity, "There is no place %q.", to)
	}
	return to, nil
}

// noteTime reads when it happened, and how sure the keeper is. Whole minutes, so that a double press is one note.
func noteTime(cal garden.Calendar, f url.Values, now time.Time) (time.Time, time.Duration, error) {
	now = now.UTC().Truncate(time.Minute)
	today := cal.DateOf(now)
	noon := func(d garden.Date) time.Time {
		y, m, day := d.Civil()
		return time.Date(y, m, day, 12, 0, 0, 0, cal.Zone).UTC()
	}
	switch f.Get("when") {
	case "", "now":
		return now, 0, nil
	case "earlier":
		if at := cal.Start(today).Add(8 * time.Hour); at.Before(now) {
			return at, 4 * time.Hour, nil
		}
		return now, 4 * time.Hour, nil
	case "yesterday":
		return noon(today - 1), 12 * time.Hour, nil
	case "two-days":
		return noon(today - 2), 12 * time.Hour, nil
	case "week":
		return noon(today - 7), 72 * time.Hour, nil
	case "on":
		day, err := time.Parse(time.DateOnly, f.Get("day"))
		if err != nil {
			return now, 0, refuse(http.StatusUnprocessableEntity, "Which day? Go back and give the day.")
		}
		at := noon(garden.Date(day.Unix() / 86400))
		if at.After(now) {
			if cal.DateOf(at) != today {
				return now, 0, refuse(http.StatusUnprocessableEntity, "%s has not come yet.", f.Get("day"))
			}
			at = now
		}
		return at, 12 * time.Hour, nil
	}
	return now, 0, refuse(http.StatusUnprocessableEntity, "%q is not a time this page knows.", f.Get("when"))
}

// alikePot is the first living pot of a way of wintering: it stands for them all where a note asks where they are.
func alikePot(st *alerts.Standing, regime string) *alerts.PotStanding {
	for i := range st.Pots {
		if p := &st.Pots[i]; p.Gone.IsZero() && p.Regime != nil && p.Regime.Name == regime {
			return p
		}
	}
	return nil
}

func potOf(st *alerts.Standing, id string) *alerts.PotStanding {
	for i := range st.Pots {
		if st.Pots[i].Pot.ID == id {
			return &st.Pots[i]
		}
	}
	return nil
}

func oneOf[T comparable](v T, of []T) bool {
	for _, o := range of {
		if o == v {
			return true
		}
	}
	return false
}

// maxText is how many bytes of free words fit a note's detail beside an amount.
const maxText = 450

// oneLine makes a text fit for a journal line: no control characters, at most n runes and maxText bytes.
func oneLine(s string, n int) string {
	s = strings.ToValidUTF8(s, "")
	s = strings.Join(strings.FieldsFunc(s, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }), " ")
	if r := []rune(s); len(r) > n {
		s = string(r[:n])
	}
	for len(s) > maxText {
		_, last := utf8.DecodeLastRuneInString(s)
		s = s[:len(s)-last]
	}
	return s
}
