package dashboards

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// gardenPage shows the configuration as it was understood. The file stays the truth: nothing is edited here.
func (p *Pages) gardenPage(w http.ResponseWriter, r *http.Request) error {
	st, err := p.standing()
	if err != nil {
		return err
	}
	b := newBench(st, p.cfg.Now())
	page := &factsPage{frame: p.frame(r, st, "garden"), Lead: "What garden.toml says, as it was understood. Change the file to change it."}
	page.Title = "Garden"
	g := st.Garden
	page.Sections = []section{{Facts: siteFacts(g)}, b.placesSection(), b.potsSection(), b.probesSection(), regimesSection(), rulesSection(g.Rules), waysSection(g.Push, st.Reach)}
	if page.SignedIn { // where things lie is nobody else's business
		page.Sections = append(page.Sections, servicesSection(g.Services))
	}
	starts, err := p.startsSection(r.Context(), g.Site)
	if err != nil {
		return err
	}
	if starts.Table != nil {
		page.Sections = append(page.Sections, starts)
	}
	return p.showTagged(w, r, "facts", page)
}

func siteFacts(g *garden.Garden) []fact {
	s := g.Site
	side := "not given: asked for, never guessed"
	if south, ok := s.South(); ok {
		side = map[bool]string{true: "southern half of the world", false: "northern half of the world"}[south]
	}
	zone := ""
	if s.Zone != nil {
		zone = s.Zone.String()
	}
	return known(fact{Name: "Name", Value: s.Name, Say: s.ID}, fact{Name: "Latitude and longitude", Value: coordinates(s), Say: side}, fact{Name: "Altitude", Value: metres(s.Altitude)},
		fact{Name: "Time zone", Value: strings.ReplaceAll(zone, "/", "/\u200b")}, fact{Name: "A round every", Value: spanWords(s.Every)}, fact{Name: "Board's clock", Value: map[bool]string{true: "trusted as it is", false: "believed once set by network or hardware clock"}[s.Clock == "trust"]},
		fact{Name: "Temperatures in", Value: map[bool]string{true: "°F", false: "°C"}[s.Fahrenheit]})
}

func coordinates(s garden.Site) string {
	if math.IsNaN(s.Latitude) || s.Latitude == 0 && s.Longitude == 0 {
		return "not given"
	}
	ns, ew := "N", "E"
	if s.Latitude < 0 {
		ns = "S"
	}
	if s.Longitude < 0 {
		ew = "W"
	}
	return fmt.Sprintf("%s° %s, %s° %s", number(math.Abs(s.Latitude), 2), ns, number(math.Abs(s.Longitude), 2), ew)
}

func metres(m float64) string {
	if m == 0 || math.IsNaN(m) {
		return ""
	}
	return number(m, 0) + nbsp + "m"
}

func (b *bench) placesSection() section {
	s := section{ID: "places", Title: "Places", Table: &tableView{Head: []string{"Place", "Name", "Roof", "Shaded", "Faces", "Line in the file"}}}
	for i := range b.st.Garden.Places {
		pl := &b.st.Garden.Places[i]
		s.Table.Rows = append(s.Table.Rows, cells(pl.ID, pl.Name, yes(pl.Roof), yes(pl.Shaded), pl.Facing, lineText(pl.Line)))
	}
	return s
}

func (b *bench) potsSection() section {
	s := section{ID: "pots", Title: "Pots and plants", Table: &tableView{Head: []string{"Pot", "Plant", "Stands at", "Winter water", "Rises", "Roots", "Pot", "Speaks for", "Line in the file"}}}
	for i := range b.st.Pots {
		ps := &b.st.Pots[i]
		row := []cell{{ps.Pot.ID, "/pot/" + ps.Pot.ID}, {Text: ps.Pot.Plant}, {Text: b.placeNamed(ps.Place)}, {Text: "not said"}, {}, {}, {Text: potBody(ps.Pot)},
			{Text: list(slices.Concat(ps.Pot.Relatives, ps.Pot.Faster))}, {Text: lineText(ps.Pot.Line)}}
		if ps.Regime != nil {
			row[3].Text = regimeWords(ps.Regime.Name)
		}
		if ps.Plant != nil {
			row[1] = cell{plantWords(ps.Plant), "/plant/" + ps.Plant.ID}
			row[4].Text, row[5].Text = earlinessWords(ps.Plant.Earliness), tenderWords(ps.Plant.Tender)
		}
		s.Table.Rows = append(s.Table.Rows, row)
	}
	return s
}

func (b *bench) probesSection() section {
	s := section{ID: "probes", Title: "Probes", Table: &tableView{Head: []string{"Probe", "Measures", "Where", "Read by", "Last reading", "Answers", "Line in the file"}}}
	for i := range b.st.Probes {
		p := &b.st.Probes[i]
		where := "pot " + p.Probe.Pot
		if p.Probe.Pot == "" {
			where = b.placeIf(p.Probe.Place)
		}
		s.Table.Rows = append(s.Table.Rows, []cell{{string(p.Probe.ID), "/probe/" + string(p.Probe.ID)}, {Text: measureWords(p.Probe.Measures)}, {Text: where}, {Text: p.Probe.Source.Name},
			{Text: b.lastOf(p)}, {Text: b.health(p)}, {Text: lineText(p.Probe.Line)}})
	}
	return s
}

// plantWords is a plant's id and its name where that is another.
func plantWords(p *garden.Plant) string {
	if p.Name == "" || p.Name == p.ID {
		return p.ID
	}
	return p.ID + " " + p.Name
}

// regimesSection shows the tables behind every water verdict; all their figures are guesses and say so.
func regimesSection() section {
	s := section{ID: "winter-water", Title: "Ways of watering", Say: "Shares of what a pot holds when watered through and drained. No published figure for these plants is known: every number here is a guess.",
		Table: &tableView{Head: []string{"Way", "Phase", "Dry under", "for days", "Water to", "Too wet over", "for days", "What may be said"}}}
	for i := range garden.Regimes {
		r := &garden.Regimes[i]
		for _, ph := range []garden.Phase{garden.Rest, garden.Growth} {
			c := r.Cell(ph)
			var say []string
			for _, f := range []struct {
				f    garden.PotFault
				word string
			}{{garden.TooDry, "too dry"}, {garden.TooWet, "too wet"}, {garden.Leak, "a leak"}, {garden.DrainCheck, "look at the drain"}} {
				if c.Speak[f.f] {
					say = append(say, f.word)
				}
			}
			s.Table.Rows = append(s.Table.Rows, cells(regimeWords(r.Name), ph.String(), orDash(int64(c.Low)), fmt.Sprint(c.LowDays), percent(int64(c.Target)), orDash(int64(c.High)), fmt.Sprint(c.HighDays), list(say)))
		}
	}
	return s
}

func orDash(permille int64) string {
	if permille == 0 {
		return "–"
	}
	return percent(permille)
}

func rulesSection(rules []table.Raw) section {
	s := section{ID: "rules", Title: "Rules changed in the file"}
	for _, r := range rules {
		s.Code += r.Path + "\n" + strings.TrimSpace(r.Body) + "\n\n"
	}
	if s.Code == "" {
		s.Say = "None: every rule keeps its defaults."
	}
	return s
}

// waysSection names the ways out and which keys they set. Values are not shown: some of them are secrets.
func waysSection(ways []table.Raw, reach string) section {
	s := section{ID: "ways", Title: "Ways out for messages", Say: sentence(reach)}
	for _, wy := range ways {
		var keys []string
		for line := range strings.Lines(wy.Body) {
			if k, _, ok := strings.Cut(line, "="); ok {
				keys = append(keys, strings.TrimSpace(k))
			}
		}
		s.Facts = append(s.Facts, fact{Name: wy.Name, Value: "set up", Say: list(keys)})
	}
	if len(s.Facts) == 0 && s.Say == "" {
		s.Say = "None is set up."
	}
	return s
}

func servicesSection(sv garden.Services) section {
	return section{ID: "services", Title: "Addresses and stores", Facts: known(fact{Name: "Page", Value: sv.Page.Listen, Say: list(sv.Page.Hosts)},
		fact{Name: "Reading without signing in", Value: map[bool]string{true: "allowed", false: ""}[sv.Page.OpenReading]},
		fact{Name: "Own broker", Value: map[bool]string{true: "off", false: sv.Broker.Listen}[sv.Broker.Off]}, fact{Name: "Journal", Value: sv.Journal.Path},
		fact{Name: "Backups", Value: sv.Backup.Folder, Say: fmt.Sprintf("%d kept", sv.Backup.Keep)}, fact{Name: "Forwarded to", Value: sv.Influx.Name})}
}

func yes(b bool) string { return map[bool]string{true: "yes", false: "–"}[b] }

func lineText(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprint(n)
}
