package dashboards

import (
	"net/http"

	"lathwatch/alerts"
	"lathwatch/dashboards/curve"
	"lathwatch/sensors"
)

// potFigures draws the pot's last sixty days: water with what was done, and its temperature.
func (p *Pages) potFigures(r *http.Request, b *bench, ps *alerts.PotStanding, notes []sensors.Note) ([]figure, error) {
	cal := b.st.Cal
	first := b.st.Day - 59
	ws := p.smallSheet(b.st, winterAsk{Season: b.st.Season, From: cal.Start(first), Until: cal.Start(b.st.Day + 1)}, 36*3600)
	days, err := p.potDays(r.Context(), ps, first, b.st.Day+1)
	if err != nil || len(days) == 0 {
		return nil, err
	}
	c, f := ws.wetChart(ps, days)
	for i := range notes {
		if m, ok := ws.mark(&notes[i]); ok {
			c.Marks = append(c.Marks, m)
		}
	}
	if hasWet(days) {
		ws.add(c, f)
	}
	ws.potTemperature(days)
	return ws.drawn(), nil
}

func hasWet(days []alerts.DayPoint) bool {
	for i := range days {
		if days[i].WetOK {
			return true
		}
	}
	return false
}

// potTemperature draws each day's range in the pot.
func (ws *winterSheet) potTemperature(days []alerts.DayPoint) {
	var bands []curve.Band
	low, high := int64(0), int64(0)
	for _, d := range days {
		if !d.TempOK {
			continue
		}
		if len(bands) == 0 {
			low, high = int64(d.Min), int64(d.Max)
		}
		low, high = min(low, int64(d.Min)), max(high, int64(d.Max))
		bands = append(bands, curve.Band{At: curve.Noon(ws.cal, d.Day), Low: int64(d.Min), High: int64(d.Max)})
	}
	if len(bands) == 0 {
		return
	}
	c := curve.Chart{ID: "pot-temperature", Title: "Temperature in the pot", Scale: ws.degScale(), About: "From " + ws.plainDeg(low) + " to " + ws.plainDeg(high) + " " + ws.unit() + "."}
	c.Low, c.High, c.Lines = c.Scale.Fit(low, high)
	w := ws.sheet.Window
	w.Low, w.High = c.Low, c.High
	area, l, h := curve.Ribbon(bands, w)
	c.Curves = []curve.Curve{{Kind: curve.AirRibbon, D: area}, {Kind: curve.AirHigh, Name: "day high", D: h}, {Kind: curve.AirLow, Name: "night low", D: l}}
	f := figure{Key: []keyView{key(curve.AirLow, "night low"), key(curve.AirHigh, "day high")}, Head: []string{"Day", "Lowest " + ws.unit(), "Highest " + ws.unit()}, How: "Lowest and highest of each day."}
	for _, d := range days {
		if d.TempOK {
			f.Rows = append(f.Rows, []string{ws.plainDate(d.Day), ws.plainDeg(int64(d.Min)), ws.plainDeg(int64(d.Max))})
		}
	}
	ws.add(c, f)
}

// probesOf lists a pot's probes with their health.
func (b *bench) probesOf(pot string) section {
	s := section{ID: "probes", Title: "Probes", Table: &tableView{Head: []string{"Probe", "Measures", "Depth", "Last", "Health"}}}
	for i := range b.st.Probes {
		p := &b.st.Probes[i]
		if p.Probe.Pot != pot {
			continue
		}
		s.Table.Rows = append(s.Table.Rows, []cell{{string(p.Probe.ID), "/probe/" + string(p.Probe.ID)}, {Text: measureWords(p.Probe.Measures)}, {Text: p.Probe.Depth},
			{Text: b.lastOf(p)}, {Text: b.health(p)}})
	}
	if len(s.Table.Rows) == 0 {
		s.Table, s.Say = nil, "This pot has no probe."
	}
	return s
}

// notesSection lists notes, newest first.
func (b *bench) notesSection(notes []sensors.Note) section {
	s := section{ID: "notes", Title: "Noted", Table: &tableView{Head: []string{"When", "What"}}}
	for i := len(notes) - 1; i >= 0 && len(s.Table.Rows) < 200; i-- {
		s.Table.Rows = append(s.Table.Rows, cells(b.when(notes[i].At), b.noteText(&notes[i])))
	}
	if len(s.Table.Rows) == 0 {
		s.Table, s.Say = nil, "Nothing has been noted yet."
	}
	return s
}
