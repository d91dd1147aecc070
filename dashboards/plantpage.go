package dashboards

import (
	"net/http"
	"slices"
	"strconv"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/ledger"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// plantPage is one plant whatever pot it stands in: its kind and its seasons.
func (p *Pages) plantPage(w http.ResponseWriter, r *http.Request) error {
	st, err := p.standing()
	if err != nil {
		return err
	}
	plant := st.Garden.Plant(r.PathValue("id"))
	if plant == nil {
		return refuse(http.StatusNotFound, "There is no plant %q.", r.PathValue("id"))
	}
	b := newBench(st, p.cfg.Now())
	subjects := []string{plant.ID}
	if plant.Regime != "" {
		subjects = append(subjects, allPots+plant.Regime)
	}
	pots := section{Title: "Stands in"}
	for i := range st.Pots {
		ps := &st.Pots[i]
		if ps.Pot.Plant != plant.ID {
			continue
		}
		subjects = append(subjects, ps.Pot.ID)
		pots.Facts = append(pots.Facts, fact{Name: b.placeNamed(ps.Place), Value: "Pot " + ps.Pot.ID, At: "/pot/" + ps.Pot.ID, Say: ps.Stage.Words()})
	}
	notes, err := p.notesAbout(r, b.now, subjects)
	if err != nil {
		return err
	}
	book, err := p.book(r, st, b.now)
	if err != nil {
		return err
	}
	page := &factsPage{frame: p.frame(r, st, "plant")}
	if page.Title = plant.Name; page.Title == "" {
		page.Title = plant.ID
	}
	page.Sections = []section{{Facts: plantFacts(plant)}, pots, b.ledger(book.Line(plant.ID)), b.plantFeeding(plant.ID), b.notesSection(notes)}
	return p.showTagged(w, r, "facts", page)
}

func plantFacts(plant *garden.Plant) []fact {
	return known(fact{Name: "Id", Value: plant.ID}, fact{Name: "Winter water", Value: regimeWords(plant.Regime)}, fact{Name: "Rises", Value: earlinessWords(plant.Earliness)},
		fact{Name: "Roots", Value: tenderWords(plant.Tender)}, fact{Name: "Feed hunger", Value: plant.Hunger})
}

func (p *Pages) notesAbout(r *http.Request, now time.Time, subjects []string) ([]sensors.Note, error) {
	if p.cfg.NoteBook == nil {
		return nil, nil
	}
	notes, err := p.cfg.NoteBook.Notes(r.Context(), now.Add(-pastNotes), now.Add(time.Hour))
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(slices.Clone(notes), func(n sensors.Note) bool {
		return !slices.Contains(subjects, n.Subject) || n.What == sensors.Seen || n.What == sensors.Snoozed || n.What == sensors.Undo
	}), nil
}

// ledger lays the plant's seasons out as the collection's book has them: dates, shoots against the year before, losses.
func (b *bench) ledger(l *ledger.Line) section {
	s := section{ID: "ledger", Title: "Seasons", Say: "A season is named by the year the plant comes up in. Ratio: shoots against the season before, every pot counted in both; doubling each year is the aim."}
	seasons := ledgerSeasons(b.st.Cal, l)
	if len(seasons) == 0 {
		s.Say = "No nose, flower or shoot count has been noted yet."
		return s
	}
	s.Table = &tableView{Head: []string{"Season", "Nose", "Opening", "Flower", "Leaves down", "Shoots", "Ratio", "Flowers", "Lost"}}
	date := func(d garden.Date) string {
		if d == 0 {
			return "–"
		}
		return b.plainDate(d)
	}
	for _, season := range slices.Backward(seasons) {
		y := l.Year(season)
		if y == nil {
			y = &ledger.Year{Season: season}
		}
		flowers := "–"
		if y.Flowers > 0 {
			flowers = strconv.Itoa(y.Flowers)
		}
		s.Table.Rows = append(s.Table.Rows, cells(strconv.Itoa(season), date(y.Nose), date(y.Opening), date(y.Flower), date(leavesDown(b.st.Cal, l, season)), y.ShootsWords(), y.RatioWords(), flowers, y.LossWords()))
	}
	return s
}

// midwinter is the day of the plants' year up to which leaves that go down close the season before.
const midwinter = 122

// leavesDown is when a season's own leaves went down: in the autumn after it as a rule.
func leavesDown(cal garden.Calendar, l *ledger.Line, season int) garden.Date {
	if next := l.Year(season + 1); next != nil && next.Leaf != 0 && cal.SeasonDay(next.Leaf) < midwinter {
		return next.Leaf
	}
	if y := l.Year(season); y != nil && y.Leaf != 0 && cal.SeasonDay(y.Leaf) >= midwinter {
		return y.Leaf
	}
	return 0
}

// ledgerSeasons are the seasons with anything to show, oldest first: leaves of an autumn stand with the season they close.
func ledgerSeasons(cal garden.Calendar, l *ledger.Line) []int {
	var out []int
	if l == nil {
		return nil
	}
	for i := range l.Years {
		y := &l.Years[i]
		autumn := y.Leaf != 0 && cal.SeasonDay(y.Leaf) < midwinter
		if autumn {
			out = append(out, y.Season-1)
		}
		if y.Nose != 0 || y.Opening != 0 || y.Flower != 0 || y.Counted || y.Part || len(y.Lost) > 0 || y.Leaf != 0 && !autumn {
			out = append(out, y.Season)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// book keeps the whole collection's book from every note on record.
func (p *Pages) book(r *http.Request, st *alerts.Standing, now time.Time) (*ledger.Book, error) {
	src := ledger.Source{Garden: st.Garden, Cal: st.Cal}
	if p.cfg.NoteBook != nil {
		notes, err := p.cfg.NoteBook.Notes(r.Context(), time.Time{}, now.Add(time.Hour))
		if err != nil {
			return nil, err
		}
		src.Notes = notes
	}
	return ledger.Keep(src), nil
}
