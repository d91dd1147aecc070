package dashboards

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/curve"
	"lathwatch/dashboards/ledger"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// pastNotes is how far back a pot's and a plant's notes are read.
const pastNotes = 12 * 366 * 24 * time.Hour

// garden gives the newest standing, or says that there is none yet.
func (p *Pages) standing() (*alerts.Standing, error) {
	st := p.cfg.Standings.Standing()
	if st == nil || st.Garden == nil {
		return nil, refuse(http.StatusServiceUnavailable, "The first round has not been walked yet.")
	}
	return st, nil
}

// potPage is one pot: where it stands, what it went through, what was done to it.
func (p *Pages) potPage(w http.ResponseWriter, r *http.Request) error {
	st, err := p.standing()
	if err != nil {
		return err
	}
	ps := potOf(st, r.PathValue("id"))
	if ps == nil {
		return refuse(http.StatusNotFound, "There is no pot %q.", r.PathValue("id"))
	}
	b := newBench(st, p.cfg.Now())
	page := &factsPage{frame: p.frame(r, st, "pot"), Lead: sentence(b.potSentence(ps)), Patterns: patterns()}
	page.Title = "Pot " + ps.Pot.ID
	if ps.Plant != nil && ps.Plant.Name != "" {
		page.Title += ", " + ps.Plant.Name
	}
	notes, err := p.notesOf(r.Context(), ps, b.now.Add(-pastNotes), b.now.Add(time.Hour))
	if err != nil {
		return err
	}
	figures, err := p.potFigures(r, b, ps, notes)
	if err != nil {
		return err
	}
	page.Sections = append(page.Sections, section{Facts: b.potFacts(ps)}, section{ID: "water", Title: "Water", Facts: b.waterFacts(ps), Figures: figures,
		Links: []link{{"On the winter sheet", winterAsk{Season: st.Season, Place: orFirst(st, ps.Place), Pot: ps.Pot.ID}.seasonAddress(st), ""}}},
		section{ID: "rest", Title: "Rest and rising", Facts: b.restFacts(ps, notes)}, b.feedSection(ps), b.probesOf(ps.Pot.ID), b.notesSection(notes))
	return p.showTagged(w, r, "facts", page)
}

func orFirst(st *alerts.Standing, place string) string {
	if len(airProbes(st.Garden, place)) > 0 {
		return place
	}
	return firstAirPlace(st.Garden)
}

// seasonAddress is the address of a whole winter.
func (q winterAsk) seasonAddress(st *alerts.Standing) string {
	return askedWhole(st, q).address(st.Cal)
}

// potSentence is the pot's verdict with the days left.
func (b *bench) potSentence(ps *alerts.PotStanding) string {
	v := b.pot(ps)
	switch {
	case v.State == "today":
		return "Water it today"
	case ps.Verdict != "" && v.State == "ok" && ps.DaysLeft.OK:
		if days, in := strings.CutSuffix(v.Left, nbsp+"d"); in {
			return sentence(ps.Verdict) + " Its water lasts another " + days + nbsp + "days"
		}
		return sentence(ps.Verdict) + " It wants water " + v.Left
	case ps.Verdict != "":
		return ps.Verdict
	}
	return v.Left
}

func (b *bench) potFacts(ps *alerts.PotStanding) []fact {
	fs := []fact{{Name: "Place", Value: b.placeNamed(ps.Place)}, {Name: "Pot", Value: potBody(ps.Pot)}, {Name: "Mix", Value: ps.Pot.Mix, Say: ledger.MixRemark(ps.Pot)},
		{Name: "Winter water", Value: b.kindWords(ps), Say: ps.Phase.String()}}
	if ps.Plant != nil {
		fs = append(fs, fact{Name: "Plant", Value: plantWords(ps.Plant), At: "/plant/" + ps.Plant.ID}, fact{Name: "Roots", Value: tenderWords(ps.Plant.Tender)})
	}
	if !ps.NoseAt.IsZero() {
		foretold := "no window had been given"
		if ps.Foretold != [2]garden.Date{} {
			foretold = "foretold for " + b.plainDate(ps.Foretold[0]) + " to " + b.plainDate(ps.Foretold[1])
		}
		fs = append(fs, fact{Name: "Nose this year", Value: b.day(ps.NoseAt), Say: foretold})
	}
	if ps.Fit != nil {
		better := "the sum of warmth foresees it better"
		if !ps.Fit.BeatsMeanDate() {
			better = "its mean date foresees it as well or better"
		}
		fs = append(fs, fact{Name: "Nose in its own years", Value: fmt.Sprintf("%d years: %.0f days off by warmth, %.0f by the mean date", ps.Fit.Seasons, ps.Fit.LeftOut, ps.Fit.MeanDayLeftOut),
			Say: "each year foretold from the others; " + better})
	}
	if !ps.Moved.IsZero() {
		fs[0].Say = "since " + b.day(ps.Moved)
	}
	if ps.Regime == nil {
		fs = append(fs, fact{Name: "Winter water", Value: "not said: wet or dry?"})
	}
	if by := b.speaker[ps.Pot.ID]; by != "" {
		fs = append(fs, fact{Name: "Judged by", Value: by, At: "/pot/" + by, Say: b.beside(ps.Pot.ID, by)})
	}
	if !ps.Gone.IsZero() {
		fs = append(fs, fact{Name: "No longer here", Value: "since " + b.day(ps.Gone)})
	}
	if ps.Parent != "" {
		fs = append(fs, fact{Name: "Divided from", Value: ps.Parent, At: "/pot/" + ps.Parent})
	}
	if ps.Shoots > 0 {
		fs = append(fs, fact{Name: "Shoots", Value: fmt.Sprint(ps.Shoots), Say: "as last counted"})
	}
	fs = append(fs, fact{Name: "Speaks for", Value: list(slices.Concat(ps.Pot.Relatives, ps.Pot.Faster))})
	if !ps.TempAt.IsZero() {
		fs = append(fs, fact{Name: "Temperature", Value: b.deg(ps.Temp), Say: map[bool]string{true: "in the pot, ", false: "the air, "}[ps.TempOwn] + b.when(ps.TempAt)})
	}
	return known(fs...)
}

// beside says how a pot dries next to the one that speaks for it: learnt, as the garden file says, or taken to be alike.
func (b *bench) beside(id, by string) string {
	if r, ok := b.st.DryRatio(id, by); ok {
		say := "this one dries " + number(r.Times, 1) + " times as fast, learnt from " + fmt.Sprint(r.Days) + " days both were measured"
		if r.Times > 0.9 && r.Times < 1.1 {
			say = "it dries alike, learnt from " + fmt.Sprint(r.Days) + " days both were measured"
		}
		return say
	}
	if b.faster[id] {
		return "this one dries faster: look here first"
	}
	return "it is taken to dry alike: too few days both were measured"
}

func potBody(p *garden.Pot) string {
	s := "plastic"
	if p.Clay {
		s = "clay"
	}
	if p.Litres > 0 {
		s += ", " + p.Litres.String()
	}
	return s
}

func (b *bench) waterFacts(ps *alerts.PotStanding) []fact {
	var fs []fact
	if !ps.WetnessAt.IsZero() {
		say := b.when(ps.WetnessAt)
		if !ps.WetnessOK {
			say = "last judged " + say
		}
		if ps.Rough {
			say += "; rough, by borrowed marks"
		}
		fs = append(fs, fact{Name: "Water left", Value: percent(int64(ps.Wetness)), Say: say})
	}
	if ps.Regime != nil {
		c := ps.Regime.Cell(ps.Phase)
		limits := fact{Name: "Its limits", Value: percent(int64(c.Low)), Say: "a guess, to be set by what you see"}
		if c.High > 0 {
			limits.Value += " to " + percent(int64(c.High))
		} else {
			limits.Value += " and over"
		}
		fs = append(fs, limits)
	}
	if ps.DaysLeft.OK {
		fs = append(fs, fact{Name: "Until the dry limit", Value: daysLeft(ps.DaysLeft)})
	}
	if ps.NeedsMarks {
		fs = append(fs, fact{Name: "Marks", Value: "needed", Say: "water it through, drain it an hour, and mark it drained-full"})
	}
	if ps.Frozen {
		fs = append(fs, fact{Name: "Frozen", Value: "since " + b.day(ps.FrozenSince), Say: "its reading says nothing until it has thawed"})
	}
	if ps.Snow {
		fs = append(fs, fact{Name: "Snow", Value: "lies on it", Say: "leave it: it keeps the pot"})
	}
	if !ps.CheckProbe.IsZero() {
		fs = append(fs, fact{Name: "Probe", Value: "no rise since the thaw", Say: "lift the pot to judge it"})
	}
	for _, f := range []struct {
		name string
		at   time.Time
	}{{"Watered", ps.Watered}, {"Repotted", ps.Repotted}} {
		if !f.at.IsZero() {
			fs = append(fs, fact{Name: f.name, Value: b.day(f.at)})
		}
	}
	return fs
}

func (b *bench) restFacts(ps *alerts.PotStanding, notes []sensors.Note) []fact {
	fs := []fact{{Name: "Stage", Value: ps.Stage.Words()}, {Name: "Cold account", Value: coldWords(ps.Cold)}}
	if !ps.StageAt.IsZero() {
		fs[0].Say = "since " + b.day(ps.StageAt)
	}
	if ps.ColdCredit.OK {
		fs[1].Say = sumText([2]float64{ps.ColdCredit.Low, ps.ColdCredit.High}, curve.Scale{Div: 1000}) + " credit days since " + b.day(ps.ColdStart)
	}
	if ps.Forcing.OK {
		fs = append(fs, fact{Name: "Warmth since then", Value: b.sum(ps.Forcing), Say: "since enough cold"})
	}
	if ps.Break != ([2]garden.Date{}) {
		f := fact{Name: "Nose expected", Value: b.plainDate(ps.Break[0]) + " to " + b.plainDate(ps.Break[1]), Say: ps.BreakHow}
		if at, ok := noseThisSeason(b.st, notes); ok {
			f.Say += "; it came on " + b.day(at)
		}
		fs = append(fs, f)
	}
	fs = append(fs, fact{Name: "Freeze-thaw cycles", Value: fmt.Sprint(ps.FreezeThaw), Say: fmt.Sprintf("this season, %d in the last 30 days", ps.FreezeThaw30)})
	if !ps.FrozeAt.IsZero() {
		fs = append(fs, fact{Name: "Water that froze", Value: "about " + number(ps.FrozeLitres, 1) + nbsp + "L", Say: "by " + b.day(ps.FrozeAt) + ", from how long the pot stood at freezing; rough, a check on its moisture probe"})
	}
	return append(fs, b.mouldFacts(ps)...)
}

func placeStanding(st *alerts.Standing, id string) *alerts.PlaceStanding {
	for i := range st.Places {
		if p := &st.Places[i]; p.Place.ID == id {
			return p
		}
	}
	return nil
}

// mouldFacts tell of weather grey mould likes where the pot stands, once leaves are there to catch it. Nothing is asked for: no figure for
// these plants is known.
func (b *bench) mouldFacts(ps *alerts.PotStanding) []fact {
	pl := placeStanding(b.st, ps.Place)
	if pl == nil || !pl.Mould.Known || ps.Stage < alerts.Opening || ps.Stage >= alerts.LeafDown {
		return nil
	}
	m := pl.Mould
	f := fact{Name: "Weather for grey mould", Value: "none just now", Say: "wet leaves in air over " + b.deg(12_000) + ", by hours that count for another plant; look at stem bases and let air through"}
	if m.Hours > 0 {
		f.Value = number(m.Hours, 0) + nbsp + "h wet and warm so far, " + number(m.Need, 0) + nbsp + "h would be enough"
	}
	if m.Spells > 0 {
		f.Say = fmt.Sprintf("%d such spells this season, the last on %s; ", m.Spells, b.day(m.Last)) + f.Say
	}
	return []fact{f}
}

// sum writes an interval of °C·d.
func (b *bench) sum(i alerts.Interval) string {
	unit, f := "°C·d", 1.0
	if b.fahr {
		unit, f = "°F·d", 1.8
	}
	return sumText([2]float64{i.Low * f, i.High * f}, curve.Scale{Div: 1000}) + nbsp + unit
}

func noseThisSeason(st *alerts.Standing, notes []sensors.Note) (time.Time, bool) {
	for i := range notes {
		if n := &notes[i]; n.What == sensors.Nose && st.Cal.Season(st.Cal.DateOf(n.At)) == st.Season {
			return n.At, true
		}
	}
	return time.Time{}, false
}
