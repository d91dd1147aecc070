package dashboards

import (
	"context"
	"fmt"
	"html/template"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/curve"
	"lathwatch/sensors/garden"
)

// winterSheet gathers what one sheet is drawn from.
type winterSheet struct {
	*bench
	p     *Pages
	q     winterAsk
	cal   garden.Calendar
	all   []Day // the place's air, every winter kept
	sheet curve.Sheet
	figs  []figure
}

// figure is one chart with its key and its table.
type figure struct {
	ID, Title string
	Chart     template.HTML
	Key       []keyView
	How       string // how the figures were made
	Head      []string
	Rows      [][]string
}

type keyView struct {
	Swatch template.HTML
	Text   string
}

// wintersKept is how many winters before this one are laid out in rows.
const wintersKept = 11

func (p *Pages) winterSheet(ctx context.Context, st *alerts.Standing, q winterAsk) (*winterSheet, error) {
	ws := &winterSheet{bench: newBench(st, p.cfg.Now()), p: p, q: q, cal: st.Cal}
	ws.sheet = curve.Sheet{Cal: st.Cal, Window: curve.Window{From: q.From.Unix(), Until: q.Until.Unix(), Cols: q.Cols, Gap: 36 * 3600}}
	from := min(st.Cal.SeasonStart(st.Season-wintersKept), st.Cal.DateOf(q.From), st.Cal.SeasonStart(q.Season))
	until := max(st.Day, st.Cal.DateOf(q.Until)) + 1
	var err error
	if ws.all, err = p.placeDays(ctx, st.Garden, st.Cal, q.Place, from, until); err != nil {
		return nil, err
	}
	if err := ws.air(ctx); err != nil {
		return nil, err
	}
	if q.Until.Sub(q.From) >= 4*24*time.Hour {
		if err := ws.sums(ctx); err != nil {
			return nil, err
		}
	}
	if err := ws.pot(ctx); err != nil {
		return nil, err
	}
	for i := range ws.figs {
		ws.figs[i].Chart = template.HTML(ws.sheet.Draw(i))
	}
	return ws, nil
}

func (ws *winterSheet) add(c curve.Chart, f figure) {
	f.ID, f.Title = c.ID, c.Title
	ws.sheet.Charts = append(ws.sheet.Charts, c)
	ws.figs = append(ws.figs, f)
}

func key(k curve.Kind, text string) keyView {
	return keyView{template.HTML(curve.Swatch(k)), text}
}

// within gives the days of all from first up to until.
func within(days []Day, first, until garden.Date) []Day {
	i, j := 0, len(days)
	for i < j && days[i].Date < first {
		i++
	}
	for j > i && days[j-1].Date >= until {
		j--
	}
	return days[i:j]
}

// shown gives the days that lie in the sheet's span.
func (ws *winterSheet) shown(days []Day) []Day {
	return within(days, ws.cal.DateOf(ws.q.From), ws.cal.DateOf(ws.q.Until.Add(-time.Second))+1)
}

// laid moves another season's days onto this one by season-day: the same day of the plants' year, in both hemispheres.
func (ws *winterSheet) laid(season int) []Day {
	first, shift := ws.cal.SeasonStart(season), ws.cal.SeasonStart(ws.q.Season)-ws.cal.SeasonStart(season)
	var out []Day
	for _, d := range within(ws.all, first, ws.cal.SeasonStart(season+1)) {
		d.Date += shift
		out = append(out, d)
	}
	return out
}

// seasons lists the winters with any reading at the place, newest first.
func (ws *winterSheet) seasons() []int {
	var out []int
	for i := len(ws.all) - 1; i >= 0; i-- {
		if s := ws.cal.Season(ws.all[i].Date); len(out) == 0 || out[len(out)-1] != s {
			out = append(out, s)
		}
	}
	return out
}

func (ws *winterSheet) degScale() curve.Scale {
	if ws.fahr {
		return curve.Scale{Unit: "°F", Div: 1000 / 1.8, Add: 32, Digits: 1}
	}
	return curve.Scale{Unit: "°C", Div: 1000, Digits: 1}
}

// sumScale writes degree-days, counted in thousandths of °C·d.
func (ws *winterSheet) sumScale() curve.Scale {
	if ws.fahr {
		return curve.Scale{Unit: "°F·d", Div: 1000 / 1.8, Digits: 0}
	}
	return curve.Scale{Unit: "°C·d", Div: 1000, Digits: 0}
}

// winterName names a winter by its years: the season's own in the southern half, the two it lies in in the northern.
func (ws *winterSheet) winterName(season int) string {
	if ws.cal.South {
		return fmt.Sprintf("winter %d", season)
	}
	return fmt.Sprintf("winter %d–%02d", season-1, season%100)
}
