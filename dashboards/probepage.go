package dashboards

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/curve"
	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

func measureWords(m garden.Measures) string { return strings.ReplaceAll(m.String(), "-", " ") }

// lastOf writes a probe's newest reading in its own unit.
func (b *bench) lastOf(p *alerts.ProbeStanding) string {
	if p.LastAt.IsZero() {
		return "never heard"
	}
	return b.value(p.Last) + ", " + b.when(p.LastAt)
}

// value writes a reading; temperatures in the site's degrees.
func (b *bench) value(r sensors.Reading) string {
	if r.Unit() == units.Temperature {
		return b.deg(units.MilliCelsius(r.Whole()))
	}
	return valueText(r.Unit(), r.Whole())
}

// valueText writes a value for people: no more decimals than anybody can use, and the unit as it is printed.
func valueText(u units.Unit, whole int64) string {
	switch u {
	case units.Voltage:
		return number(float64(whole)/1e6, 3) + nbsp + "V"
	case units.Moisture, units.Humidity, units.Charge:
		return percent(whole)
	}
	if !u.Known() {
		return fmt.Sprint(whole)
	}
	return strings.Replace(strings.Replace(u.Format(whole), " ", nbsp, 1), "-", "−", 1)
}

func (b *bench) health(p *alerts.ProbeStanding) string {
	word, since := probeTrouble(p)
	switch {
	case word != "" && !since.IsZero():
		word += " since " + b.when(since)
	case word == "" && p.LastAt.IsZero():
		return "not heard yet"
	case word == "" && p.Quality == sensors.Suspect:
		return "in doubt"
	case word == "":
		return "answers well"
	}
	if p.FaultWhy != "" {
		word += ": " + p.FaultWhy
	}
	return word
}

// probePage is one probe: its health, its faults with their cause, its last value as it came, and its last days.
func (p *Pages) probePage(w http.ResponseWriter, r *http.Request) error {
	st, err := p.standing()
	if err != nil {
		return err
	}
	var ps *alerts.ProbeStanding
	for i := range st.Probes {
		if string(st.Probes[i].Probe.ID) == r.PathValue("id") {
			ps = &st.Probes[i]
		}
	}
	if ps == nil {
		return refuse(http.StatusNotFound, "There is no probe %q.", r.PathValue("id"))
	}
	b := newBench(st, p.cfg.Now())
	page := &factsPage{frame: p.frame(r, st, "probe"), Lead: sentence(b.health(ps)), Patterns: patterns()}
	page.Title = "Probe " + string(ps.Probe.ID)
	page.Sections = []section{{Facts: b.probeFacts(ps)}}
	if p.cfg.Curves != nil {
		s, err := p.probeWeek(r, b, ps)
		if err != nil {
			return err
		}
		page.Sections = append(page.Sections, s)
	}
	return p.showTagged(w, r, "facts", page)
}

// nodeOf lists the battery, supply and signal probes that come from the same chip or topic as a probe.
func (b *bench) nodeOf(pr *garden.Probe) (same []*alerts.ProbeStanding) {
	own, err := drivers.ParseProbe(*pr)
	if pr.Source.Zero() || err != nil {
		return nil
	}
	for i := range b.st.Probes {
		n := &b.st.Probes[i]
		switch n.Probe.Measures {
		case garden.Battery, garden.Signal, garden.Supply:
			if w, err := drivers.ParseProbe(*n.Probe); err == nil && n.Probe.ID != pr.ID && w.Chip == own.Chip {
				same = append(same, n)
			}
		}
	}
	return same
}

func (b *bench) probeFacts(p *alerts.ProbeStanding) []fact {
	pr := p.Probe
	fs := []fact{{Name: "Measures", Value: measureWords(pr.Measures)}, {Name: "In pot", Value: pr.Pot, At: "/pot/" + pr.Pot}, {Name: "At", Value: b.placeIf(pr.Place)},
		{Name: "Depth", Value: pr.Depth}, {Name: "Read by", Value: pr.Source.Name}, {Name: "Last", Value: b.lastOf(p), Say: p.Quality.String()}}
	if pr.Measures == garden.AirTemperature {
		fs = append(fs, fact{Name: "Shield", Value: map[bool]string{true: "shielded", false: "not said to be shielded"}[pr.Shielded]})
	}
	if !p.LastAt.IsZero() {
		fs = append(fs, fact{Name: "As the probe sent it", Value: fmt.Sprint(p.Last.Raw), Say: "steps of " + stepWords(p.Last.Step) + " " + wholeUnit(p.Last.Unit())})
	}
	for _, n := range b.nodeOf(pr) {
		fs = append(fs, fact{Name: sentenceCase(measureWords(n.Probe.Measures)), Value: b.lastOf(n), At: "/probe/" + string(n.Probe.ID)})
	}
	if p.Spacing > 0 {
		fs = append(fs, fact{Name: "Usually every", Value: spanWords(p.Spacing)})
	}
	if asked := p.Answered + p.Failed; asked > 0 {
		f := fact{Name: "Failed in the last day", Value: fmt.Sprintf("%d of %d", p.Failed, asked)}
		if p.Failed > 0 {
			f.Say = number(100*float64(p.Failed)/float64(asked), 1) + nbsp + "%; where that stays so, look at wire, plug and supply"
		}
		fs = append(fs, f)
	}
	if p.Fault != 0 {
		fs = append(fs, fact{Name: "Fault", Value: p.Fault.String(), Say: strings.TrimSpace(p.FaultWhy + ", since " + b.when(p.FaultSince))})
	}
	for _, o := range pr.Offset {
		fs = append(fs, fact{Name: "Corrected from " + b.day(o.From), Value: b.step(o.Add.Celsius()), Say: o.Why})
	}
	marks := p.Marks
	if len(marks) == 0 {
		marks = pr.Marks
	}
	for _, m := range marks {
		from := "from the first day"
		if !m.From.IsZero() {
			from = "since " + b.day(m.From)
		}
		fs = append(fs, fact{Name: "Mark, " + m.Which.String(), Value: markText(p, m.Raw), Say: from})
	}
	return known(fs...)
}

// markText writes a mark in the probe's own unit, once the probe has shown which that is.
func markText(p *alerts.ProbeStanding, raw int64) string {
	if p.LastAt.IsZero() {
		return fmt.Sprint(raw)
	}
	return valueText(p.Last.Unit(), raw)
}

func stepWords(s units.Step) string {
	if s.Den > 1 {
		return fmt.Sprintf("%d/%d", s.Num, s.Den)
	}
	return fmt.Sprint(s.Num)
}

func (b *bench) placeIf(id string) string {
	if id == "" {
		return ""
	}
	return b.placeNamed(id)
}

// wholeUnit names the whole-number base of a unit.
func wholeUnit(u units.Unit) string {
	switch u {
	case units.Temperature:
		return "m°C"
	case units.Voltage:
		return "µV"
	case units.Moisture, units.Humidity, units.Charge:
		return "‰"
	}
	return u.String()
}

// probeWeek draws the last seven days of readings and lists the last fourteen days.
func (p *Pages) probeWeek(r *http.Request, b *bench, ps *alerts.ProbeStanding) (section, error) {
	s := section{ID: "days"}
	from := b.now.Add(-7 * 24 * time.Hour)
	ws := p.smallSheet(b.st, winterAsk{Season: b.st.Season, From: from, Until: b.now}, int64(max(3*ps.Spacing, 30*time.Minute)/time.Second))
	var pts []curve.Point
	low, high := int64(0), int64(0)
	for rd, err := range p.cfg.Curves.Readings(r.Context(), ps.Probe.ID, from, b.now) {
		if err != nil {
			return s, fmt.Errorf("reading %s: %w", ps.Probe.ID, err)
		}
		if len(pts) == 0 {
			low, high = rd.Value, rd.Value
		}
		low, high = min(low, rd.Value), max(high, rd.Value)
		pts = append(pts, curve.Point{At: rd.At.Unix(), V: rd.Value})
	}
	unit := ps.Last.Unit()
	if len(pts) > 0 && unit.Known() {
		sc := ws.degScale()
		if unit != units.Temperature {
			div := 1.0
			for range unit.Digits() {
				div *= 10
			}
			sc = curve.Scale{Unit: unit.String(), Div: div, Digits: min(unit.Digits(), 3)}
		}
		c := curve.Chart{ID: "week", Title: "The last seven days", Scale: sc}
		c.Low, c.High, c.Lines = sc.Fit(low, high)
		w := ws.sheet.Window
		w.Low, w.High = c.Low, c.High
		c.Curves = []curve.Curve{{Kind: curve.AirTrue, Name: string(ps.Probe.ID), D: curve.Line(slices.Values(pts), w)}}
		ws.add(c, figure{Key: []keyView{key(curve.AirTrue, "as read, without offsets")}})
		s.Figures = ws.drawn()
	}
	days, err := p.cfg.Curves.Days(r.Context(), ps.Probe.ID, b.st.Day-13, b.st.Day+1)
	if err != nil {
		return s, fmt.Errorf("reading the days of %s: %w", ps.Probe.ID, err)
	}
	s.Table = &tableView{Head: []string{"Day", "Readings", "Lowest", "Highest", "Heard"}}
	for _, d := range slices.Backward(days) {
		length := int64(b.st.Cal.Length(d.Date) / time.Second)
		s.Table.Rows = append(s.Table.Rows, cells(b.date(d.Date), fmt.Sprint(d.N), unitText(unit, d.Min), unitText(unit, d.Max), percent(1000*d.Covered/length)))
	}
	return s, nil
}

func unitText(u units.Unit, v int64) string {
	return valueText(u, v)
}
