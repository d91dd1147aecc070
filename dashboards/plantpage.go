package dashboards

import (
	"net/http"
	"slices"
	"strconv"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// ledgerRow is a plant's season as far as notes tell.
type ledgerRow struct {
	season int
	dates  map[sensors.What]time.Time
	shoots int
	lost   string
}

// ledgerWords are the dates of the ledger, in the order of the plants' year.
var ledgerWords = []sensors.What{sensors.Nose, sensors.Opening, sensors.Flower, sensors.LeafDown}

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
	pots := section{Title: "Stands in"}
	for i := range st.Pots {
		ps := &st.Pots[i]
		if ps.Pot.Plant != plant.ID {
			continue
		}
		subjects = append(subjects, ps.Pot.ID)
		pots.Facts = append(pots.Facts, fact{Name: b.placeNamed(ps.Place), Value: "Pot " + ps.Pot.ID, At: "/pot/" + ps.Pot.ID, Say: stageWords(ps.Stage)})
	}
	notes, err := p.notesAbout(r, b.now, subjects)
	if err != nil {
		return err
	}
	page := &factsPage{frame: p.frame(r, st, "plant")}
	if page.Title = plant.Name; page.Title == "" {
		page.Title = plant.ID
	}
	page.Sections = []section{{Facts: plantFacts(plant)}, pots, b.ledger(notes), b.notesSection(notes)}
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

// ledger lays the notes out by season: dates, shoots against the year before, losses.
func (b *bench) ledger(notes []sensors.Note) section {
	s := section{ID: "ledger", Title: "Seasons", Say: "A season is named by the year the plant comes up in. Ratio: shoots against the season before; doubling each year is the aim."}
	rows := ledgerRows(b.st.Cal, notes)
	if len(rows) == 0 {
		s.Say = "No nose, flower or shoot count has been noted yet."
		return s
	}
	s.Table = &tableView{Head: []string{"Season", "Nose", "Opening", "Flower", "Leaves down", "Shoots", "Ratio", "Lost"}}
	for i := len(rows) - 1; i >= 0; i-- {
		row := cells(strconv.Itoa(rows[i].season))
		for _, w := range ledgerWords {
			text := "–"
			if at := rows[i].dates[w]; !at.IsZero() {
				text = b.plainDate(b.st.Cal.DateOf(at))
			}
			row = append(row, cell{Text: text})
		}
		shoots, ratio := "–", "–"
		if rows[i].shoots > 0 {
			shoots = strconv.Itoa(rows[i].shoots)
			if i > 0 && rows[i-1].season == rows[i].season-1 && rows[i-1].shoots > 0 {
				ratio = "×" + number(float64(rows[i].shoots)/float64(rows[i-1].shoots), 1)
			}
		}
		s.Table.Rows = append(s.Table.Rows, append(row, cells(shoots, ratio, rows[i].lost)...))
	}
	return s
}

// ledgerRows gathers notes by season: the first date of each word, the last count of shoots.
func ledgerRows(cal garden.Calendar, notes []sensors.Note) []ledgerRow {
	var rows []ledgerRow
	for i := range notes {
		n := &notes[i]
		if n.What != sensors.Shoots && n.What != sensors.Lost && !oneOf(n.What, ledgerWords) {
			continue
		}
		season := cal.Season(cal.DateOf(n.At))
		if n.What == sensors.LeafDown && cal.SeasonDay(cal.DateOf(n.At)) < 122 {
			season-- // leaves of autumn end the season in which the plant came up
		}
		if k := len(rows); k == 0 || rows[k-1].season != season {
			rows = append(rows, ledgerRow{season: season, dates: map[sensors.What]time.Time{}})
		}
		row := &rows[len(rows)-1]
		switch n.What {
		case sensors.Shoots:
			if c, err := strconv.Atoi(n.Detail); err == nil && c >= 0 {
				row.shoots = c
			}
		case sensors.Lost:
			if row.lost = n.Detail; row.lost == "" {
				row.lost = "lost"
			}
		default:
			if row.dates[n.What].IsZero() {
				row.dates[n.What] = n.At
			}
		}
	}
	return rows
}
