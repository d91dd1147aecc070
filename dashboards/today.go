package dashboards

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/ledger"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// frame is what every page has round it.
type frame struct {
	Title, Site string
	Here        string // which page this is, for the menu
	At          string // when the newest round was walked
	AtISO       string
	Version     string
	Zone        string
	CanNote     bool
	SignedIn    bool
	SignIn      bool // signing in exists here
	Menu        []menuLink
}

type menuLink struct {
	link
	Here string
}

// todayPage is the page read with a watering can in the other hand.
type todayPage struct {
	frame
	Sentence string
	Warnings []string // rounds have stopped, nothing answers, a gap
	Reach    string   // how far messages reach, where that is not far enough
	Alerts   []alertView
	Seen     []alertView
	Benches  []benchView
	Moves    []placeChoice
	Alike    []placeChoice // ways of wintering of more than one pot
	Noted    []notedView
	Said     []saidView
	Trouble  []troubleView
	Empty    bool // no pots yet
	First    bool // nothing was heard yet
	Bare     bool // there are pots and no probe
	Stamp    string
	TodayISO string // the latest day a note may name
	Volume   string // unit of the amount box
}

// alertView is an alert, or several told in the same words.
type alertView struct {
	Kind        string
	Subjects    []string
	Text, Since string
	Grave       bool
	Weekly      bool
	Later       string
	Done        string // what was done about it
}

type benchView struct {
	ID, Name string
	Roof     bool
	Many     bool
	Air      *airView
	Pots     []potView
}

type placeChoice struct{ ID, Name string }

// notedView is a note with what there is to say to it.
type notedView struct{ ID, Subject, When, Text, Say string }

type saidView struct{ When, Text string }

type troubleView struct{ ID, Text string }

// manyPots is the number of pots at a place from which they are drawn smaller.
const manyPots = 24

func (p *Pages) today(w http.ResponseWriter, r *http.Request) error {
	st := p.cfg.Standings.Standing()
	page, err := p.todayPage(r, st)
	if err != nil {
		return err
	}
	w.Header().Set("Cache-Control", "no-store")
	return p.show(w, "today", page)
}

func (p *Pages) todayPage(r *http.Request, st *alerts.Standing) (*todayPage, error) {
	page := &todayPage{frame: p.frame(r, st, "today")}
	if st == nil || st.Garden == nil {
		page.First, page.Empty = true, true
		page.Sentence = "Starting: the first round has not been walked yet."
		page.Title = page.Sentence
		return page, nil
	}
	b := newBench(st, p.cfg.Now())
	page.Sentence = sentence(st.Sentence)
	if page.Sentence == "" {
		page.Sentence = "Nothing to do."
	}
	if page.First = unheard(st); page.First && len(st.Alerts) == 0 {
		page.Sentence = "Nothing is known yet."
	}
	page.Title, page.Stamp = page.Sentence, stamp(st)
	page.Warnings, page.Reach = b.warnings(), sentence(st.Reach)
	page.Alerts, page.Seen = b.alerts()
	page.Benches = b.benches()
	page.Trouble = b.trouble()
	page.Empty, page.Bare = len(st.Pots) == 0, len(st.Pots) > 0 && len(st.Probes) == 0
	page.TodayISO, page.Volume = st.Cal.DateOf(b.now).String(), "mL"
	if b.fahr {
		page.Volume = "fl oz"
	}
	for i := range st.Garden.Places {
		page.Moves = append(page.Moves, placeChoice{st.Garden.Places[i].ID, placeName(&st.Garden.Places[i])})
	}
	page.Alike = alikeChoices(st)
	for _, c := range st.Recent[:min(len(st.Recent), 3)] {
		page.Said = append(page.Said, saidView{b.when(c.At), c.Text})
	}
	var err error
	page.Noted, err = p.noted(r.Context(), b)
	return page, err
}

// alikeChoices are the ways of wintering that two pots or more share.
func alikeChoices(st *alerts.Standing) []placeChoice {
	var out []placeChoice
	for _, a := range st.WinteredAlike() {
		out = append(out, placeChoice{a.Regime.Name, regimeWords(a.Regime.Name)})
	}
	return out
}

// noted lists what was noted in the last day, newest first.
func (p *Pages) noted(ctx context.Context, b *bench) ([]notedView, error) {
	if p.cfg.NoteBook == nil {
		return nil, nil
	}
	now := p.cfg.Now()
	notes, err := p.cfg.NoteBook.Notes(ctx, now.AddDate(0, 0, -21), now.Add(time.Hour))
	if err != nil {
		return nil, fmt.Errorf("reading the notes: %w", err)
	}
	var v []notedView
	for i := len(notes) - 1; i >= 0 && len(v) < 12; i-- {
		n := &notes[i]
		made := n.Made
		if made.IsZero() {
			made = n.At
		}
		if now.Sub(made) > 24*time.Hour || n.What == sensors.Seen || n.What == sensors.Snoozed || n.What == sensors.Undo {
			continue
		}
		v = append(v, notedView{n.ID, n.Subject, b.when(n.At), b.noteText(n), ledger.Objection(*n)})
	}
	return v, nil
}

// benches draws each place with its pots in the garden's order, and last the pots whose place nobody knows.
func (b *bench) benches() []benchView {
	var out []benchView
	for i := range b.st.Places {
		ps := &b.st.Places[i]
		v := benchView{ID: ps.Place.ID, Name: capital(placeName(ps.Place)), Roof: ps.Place.Roof, Air: b.air(ps)}
		v.Pots = b.potsAt(ps.Place.ID)
		v.Many = len(v.Pots) >= manyPots
		out = append(out, v)
	}
	if lost := b.potsAt(""); len(lost) > 0 {
		out = append(out, benchView{ID: "elsewhere", Name: "Place not known", Pots: lost, Many: len(lost) >= manyPots})
	}
	slices.SortStableFunc(out, func(a, b benchView) int { // a place without pots comes last
		return cmp.Compare(min(len(b.Pots), 1), min(len(a.Pots), 1))
	})
	return out
}

func (b *bench) potsAt(place string) []potView {
	var pots []potView
	for i := range b.st.Pots {
		if !b.st.Pots[i].Gone.IsZero() {
			continue // divided up or lost: its page stays
		}
		at := b.st.Pots[i].Place
		if b.st.Garden.Place(at) == nil {
			at = ""
		}
		if at == place {
			pots = append(pots, b.pot(&b.st.Pots[i]))
		}
	}
	return pots
}

func placeName(p *garden.Place) string {
	if p.Name != "" {
		return p.Name
	}
	return p.ID
}
