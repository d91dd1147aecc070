package dashboards

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/curve"
)

// winterPage is the winter sheet with its form and the winters in rows.
type winterPage struct {
	frame
	Sentence string
	Figures  []figure
	Patterns template.HTML
	Missing  string // why there is nothing to draw

	Season         int
	From, To       string // of the form, days
	Places, Beside []choice
	With, Pots     []choice
	Links          []link
	CSV, Picture   string
	Months         template.HTML
	Rows           []winterRow
	Lift           string // address without a winter laid over
	AllOver        string
	Whole          string
	Now            int64 // the newest round in seconds, where it lies in the span
}

type choice struct {
	ID, Name string
	Chosen   bool
}

type link struct{ Text, At, Rel string }

type winterRow struct {
	Season          int
	Name, Text      string
	Strip           template.HTML
	Over, Open      string // addresses: lay it over, open it alone
	Laid, Here, Now bool
}

func (p *Pages) winter(w http.ResponseWriter, r *http.Request) error {
	page, _, err := p.winterPage(r)
	if err != nil {
		return err
	}
	return p.showTagged(w, r, "winter", page)
}

// sheetOnly serves the charts alone, for the page's script.
func (p *Pages) sheetOnly(w http.ResponseWriter, r *http.Request) error {
	page, _, err := p.winterPage(r)
	if err != nil {
		return err
	}
	return p.showTagged(w, r, "sheet", page)
}

// picture serves the sheet as one SVG file.
func (p *Pages) picture(w http.ResponseWriter, r *http.Request) error {
	page, ws, err := p.winterPage(r)
	if err != nil {
		return err
	}
	if ws == nil {
		return refuse(http.StatusNotFound, "%s", page.Missing)
	}
	h := w.Header()
	h.Set("Content-Type", "image/svg+xml")
	h.Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", "winter-"+strconv.Itoa(ws.q.Season)+".svg"))
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'")
	_, err = w.Write([]byte(ws.sheet.Picture(page.Site + ", " + ws.winterName(ws.q.Season))))
	return err
}

func (p *Pages) winterPage(r *http.Request) (*winterPage, *winterSheet, error) {
	st := p.cfg.Standings.Standing()
	page := &winterPage{frame: p.frame(r, st, "winter")}
	page.Title, page.Sentence = "Winter", "Winter"
	switch {
	case st == nil || st.Garden == nil:
		page.Missing = "The first round has not been walked yet."
	case st.Season == 0:
		page.Missing = "No round is on record yet: the winter sheet begins with the first night."
	case p.cfg.Curves == nil:
		page.Missing = "This page has no source of past readings."
	}
	if page.Missing != "" {
		return page, nil, nil
	}
	q, err := askWinter(st, r.URL.Query())
	if err != nil {
		return nil, nil, err
	}
	ws, err := p.winterSheet(r.Context(), st, q)
	if err != nil {
		return nil, nil, err
	}
	if !q.Until.After(st.Cal.Start(st.Day)) {
		page.At, page.AtISO = "", "" // a span that is over does not change with the round
	} else if st.At.After(q.From) {
		page.Now = st.At.Unix()
	}
	ws.fill(page)
	return page, ws, nil
}

// fill lays the sheet, its form and its rows into the page.
func (ws *winterSheet) fill(page *winterPage) {
	q, cal := ws.q, ws.cal
	page.Season, page.Figures, page.Patterns = q.Season, ws.figs, template.HTML(curve.Patterns())
	page.Title = sentenceCase(ws.winterName(q.Season)) + ", " + ws.placeNamed(q.Place)
	page.Sentence = airSummary(ws.bench, ws.shown(ws.all))
	page.From, page.To = writeMoment(cal, q.From, false)[:10], writeMoment(cal, q.Until, true)[:10]
	for i := range ws.st.Garden.Places {
		pl := &ws.st.Garden.Places[i]
		if len(airProbes(ws.st.Garden, pl.ID)) == 0 {
			continue
		}
		page.Places = append(page.Places, choice{pl.ID, placeName(pl), pl.ID == q.Place})
		if pl.ID != q.Place {
			page.Beside = append(page.Beside, choice{pl.ID, placeName(pl), pl.ID == q.Beside})
		}
	}
	for _, s := range ws.seasons() {
		if s != q.Season {
			page.With = append(page.With, choice{strconv.Itoa(s), ws.winterName(s), s == q.With})
		}
	}
	for i := range ws.st.Garden.Pots {
		pot := &ws.st.Garden.Pots[i]
		page.Pots = append(page.Pots, choice{pot.ID, pot.ID, pot.ID == q.Pot})
	}
	page.CSV, page.Picture = "/winter.csv?"+q.values(cal).Encode(), "/winter.svg?"+q.values(cal).Encode()
	ws.links(page)
	ws.rows(page)
}

// links move and stretch the span without a script.
func (ws *winterSheet) links(page *winterPage) {
	q := ws.q
	at := func(q winterAsk) string { return q.address(ws.cal) + "#sheet" }
	page.Whole = at(askedWhole(ws.st, q))
	page.Links = []link{{"Earlier", at(q.zoomed(-0.5, 1)), ""}, {"Closer", at(q.zoomed(0, 0.5)), ""}, {"Wider", at(q.zoomed(0, 2)), ""},
		{"Later", at(q.zoomed(0.5, 1)), ""}, {"Whole winter", page.Whole, ""}}
	without := q
	without.With = 0
	page.Lift = at(without)
	without.With = -1
	page.AllOver = at(without)
}

func askedWhole(st *alerts.Standing, q winterAsk) winterAsk {
	first := st.Cal.SeasonStart(q.Season)
	q.From, q.Until = st.Cal.Start(first+winterFrom), st.Cal.Start(first+winterUntil)
	return q
}

// rows draws each winter kept as one row over the same months.
func (ws *winterSheet) rows(page *winterPage) {
	axis := askedWhole(ws.st, ws.q)
	w := curve.Window{From: axis.From.Unix(), Until: axis.Until.Unix()}
	page.Months = template.HTML(curve.MonthRow(w, ws.cal))
	for _, s := range ws.seasons() {
		first := ws.cal.SeasonStart(ws.q.Season)
		days := within(ws.laid(s), first+winterFrom, first+winterUntil)
		if len(days) == 0 {
			continue
		}
		row := winterRow{Season: s, Name: sentenceCase(ws.winterName(s)), Laid: s == ws.q.With, Here: s == ws.q.Season, Now: s == ws.st.Season, Text: ws.rowText(s)}
		row.Strip = template.HTML(curve.Strip(w, ws.cal, curve.Spells(airDays(days)), row.Name+": "+row.Text))
		over, open := ws.q, askedWhole(ws.st, winterAsk{Season: s, Place: ws.q.Place, Beside: ws.q.Beside, Pot: ws.q.Pot})
		over.With = s
		row.Over, row.Open = over.address(ws.cal)+"#sheet", open.address(ws.cal)+"#sheet"
		page.Rows = append(page.Rows, row)
	}
}

// rowText sums a winter up: from its own days, not the moved ones.
func (ws *winterSheet) rowText(season int) string {
	first := ws.cal.SeasonStart(season)
	days := within(ws.all, first+winterFrom, first+winterUntil)
	text := strings.TrimSuffix(airSummary(ws.bench, days), ".")
	text, _, _ = strings.Cut(text, ", highest")
	pts := seasonSums(ws.cal, season, within(ws.all, first, first+winterUntil), min(first+winterUntil, ws.st.Day), time.Time{})
	if n := len(pts); n > 0 && pts[n-1].Begun {
		text += "; " + sumText([2]float64{pts[n-1].Cold[0], pts[n-1].Cold[1]}, curve.Scale{Div: 1000}) + " credit days by the air"
	}
	return text
}

// showTagged shows a page with a tag of its content, so that an unchanged one is not sent again.
func (p *Pages) showTagged(w http.ResponseWriter, r *http.Request, view string, page any) error {
	var b bytes.Buffer
	if err := p.views[view].Execute(&b, page); err != nil {
		return fmt.Errorf("drawing the page %s: %w", view, err)
	}
	sum := sha256.Sum256(b.Bytes())
	tag := `W/"` + hex.EncodeToString(sum[:12]) + `"`
	h := w.Header()
	h.Set("ETag", tag)
	h.Set("Cache-Control", "private, no-cache")
	if r.Header.Get("If-None-Match") == tag {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	h.Set("Content-Type", "text/html; charset=utf-8")
	_, err := w.Write(b.Bytes())
	return err
}

// winterCSV writes what the sheet shows: readings in a short span, days and sums in a long one.
func (p *Pages) winterCSV(w http.ResponseWriter, r *http.Request) error {
	page, ws, err := p.winterPage(r)
	if err != nil {
		return err
	}
	if ws == nil {
		return refuse(http.StatusNotFound, "%s", page.Missing)
	}
	h := w.Header()
	h.Set("Content-Type", "text/csv; charset=utf-8")
	h.Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", "winter-"+strconv.Itoa(ws.q.Season)+"-"+url.PathEscape(ws.q.Place)+".csv"))
	c := csv.NewWriter(w)
	if ws.q.near() {
		err = ws.csvReadings(r.Context(), c)
	} else {
		err = ws.csvDays(r.Context(), c)
	}
	c.Flush()
	if err != nil {
		return err
	}
	return c.Error()
}
