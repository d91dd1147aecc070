package dashboards

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/curve"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// pot draws one pot's water by days, with what was done to it, and hatches the days its reading said nothing.
func (ws *winterSheet) pot(ctx context.Context) error {
	ps := potOf(ws.st, ws.q.Pot)
	if ps == nil {
		return nil
	}
	first, until := ws.cal.DateOf(ws.q.From), ws.cal.DateOf(ws.q.Until.Add(-time.Second))+1
	days, err := ws.p.potDays(ctx, ps, first, until)
	if err != nil {
		return err
	}
	notes, err := ws.p.notesOf(ctx, ps, ws.q.From, ws.q.Until)
	if err != nil {
		return err
	}
	c, f := ws.wetChart(ps, days)
	for i := range notes {
		if m, ok := ws.mark(&notes[i]); ok {
			c.Marks = append(c.Marks, m)
		}
	}
	ws.add(c, f)
	return nil
}

// potDays reads a pot's days: from its own source, or the sixty days of the Standing.
func (p *Pages) potDays(ctx context.Context, ps *alerts.PotStanding, first, until garden.Date) ([]alerts.DayPoint, error) {
	if p.cfg.PotDays != nil {
		days, err := p.cfg.PotDays.PotDays(ctx, ps.Pot.ID, first, until)
		if err != nil {
			return nil, fmt.Errorf("reading the days of pot %s: %w", ps.Pot.ID, err)
		}
		return days, nil
	}
	var days []alerts.DayPoint
	for _, d := range ps.History {
		if d.Day >= first && d.Day < until {
			days = append(days, d)
		}
	}
	return days, nil
}

// notesOf reads the notes that mean a pot: by its id, its plant's, its regime or the place it stood at then.
func (p *Pages) notesOf(ctx context.Context, ps *alerts.PotStanding, from, until time.Time) ([]sensors.Note, error) {
	if p.cfg.NoteBook == nil {
		return nil, nil
	}
	notes, err := p.cfg.NoteBook.Notes(ctx, time.Time{}, until) // where it stood is told by the moves before
	if err != nil {
		return nil, fmt.Errorf("reading the notes: %w", err)
	}
	return slices.DeleteFunc(notesAbout(notes, ps), func(n sensors.Note) bool {
		return n.At.Before(from) || n.What == sensors.Seen || n.What == sensors.Snoozed || n.What == sensors.Undo
	}), nil
}

// notesAbout picks the notes that mean a pot out of all there are, oldest first: a note about a place means who stood there then.
func notesAbout(notes []sensors.Note, ps *alerts.PotStanding) (about []sensors.Note) {
	subjects := []string{ps.Pot.ID, ps.Pot.Plant}
	if ps.Regime != nil {
		subjects = append(subjects, "all:"+ps.Regime.Name)
	}
	place := ps.Pot.Place
	for _, n := range notes {
		if n.Subject != place && !slices.Contains(subjects, n.Subject) {
			continue
		}
		about = append(about, n)
		if n.What == sensors.Moved {
			place = n.Detail
		}
	}
	return about
}

// wetChart draws the days of a pot between its limits.
func (ws *winterSheet) wetChart(ps *alerts.PotStanding, days []alerts.DayPoint) (curve.Chart, figure) {
	c := curve.Chart{ID: "water", Title: "Water in pot " + ps.Pot.ID, Scale: curve.Scale{Unit: "%", Div: 10, Digits: 0}}
	top := int64(600)
	var pts []curve.Point
	f := figure{Head: []string{"Day", "Water %", "Lowest " + ws.unit(), "Highest " + ws.unit()}, How: "Per cent of what the pot holds when watered through and drained for an hour. Hatched: no verdict that day, as when the pot was frozen."}
	for _, d := range days {
		row := []string{ws.plainDate(d.Day), "–", "–", "–"}
		if d.WetOK {
			pts = append(pts, curve.Point{At: curve.Noon(ws.cal, d.Day), V: int64(d.Wet)})
			top = max(top, int64(d.Wet))
			row[1] = number(float64(d.Wet)/10, 0)
		}
		if d.TempOK {
			row[2], row[3] = ws.plainDeg(int64(d.Min)), ws.plainDeg(int64(d.Max))
		}
		f.Rows = append(f.Rows, row)
	}
	c.Spans = unjudged(ws.cal, days)
	if ps.Regime != nil {
		cell := ps.Regime.Cell(ps.Phase)
		if cell.Low > 0 {
			c.Levels = append(c.Levels, curve.Level{V: int64(cell.Low), Label: "dry limit"})
		}
		if cell.High > 0 {
			c.Levels = append(c.Levels, curve.Level{V: int64(cell.High), Label: "too wet over this"})
			top = max(top, int64(cell.High))
		}
	}
	c.Low, c.High, c.Lines = c.Scale.Fit(0, top+top/8)
	w := ws.sheet.Window
	w.Low, w.High = c.Low, c.High
	c.Curves = []curve.Curve{{Kind: curve.WetLine, Name: "water", D: curve.Line(slices.Values(pts), w)}}
	f.Key = []keyView{key(curve.WetLine, "water left"), key(curve.LimitLine, "limits of its "+strings.ToLower(regimeOf(ps))+", "+ps.Phase.String())}
	c.About = plural(len(pts), "day") + " judged."
	return c, f
}

func regimeOf(ps *alerts.PotStanding) string {
	if ps.Regime == nil {
		return "water (not said)"
	}
	return regimeWords(ps.Regime.Name)
}

// unjudged joins days without a verdict into hatched spans.
func unjudged(cal garden.Calendar, days []alerts.DayPoint) []curve.Span {
	var out []curve.Span
	for _, d := range days {
		if d.WetOK {
			continue
		}
		from, until := cal.Start(d.Day).Unix(), cal.Start(d.Day+1).Unix()
		if n := len(out); n > 0 && out[n-1].Until == from {
			out[n-1].Until = until
			continue
		}
		out = append(out, curve.Span{From: from, Until: until, Hatched: true})
	}
	return out
}

// markLetters are what is written over a mark; words not listed make none.
var markLetters = map[sensors.What]string{sensors.Watered: "water", sensors.Fed: "feed", sensors.Moved: "moved", sensors.Nose: "nose", sensors.Opening: "opening",
	sensors.Flower: "flower", sensors.LeafDown: "leaves down", sensors.Repotted: "repotted", sensors.Divided: "divided", sensors.Marks: "marked", sensors.Feel: "felt", sensors.Dressed: "dressed"}

func (ws *winterSheet) mark(n *sensors.Note) (curve.Mark, bool) {
	letter := markLetters[n.What]
	if n.What == sensors.Feel {
		letter = n.Detail
	}
	return curve.Mark{At: n.At.Unix(), Label: letter, Text: ws.noteText(n) + ", " + ws.when(n.At)}, letter != ""
}
