package daemon

import (
	"context"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"strings"
	"time"

	"lathwatch/alerts/sheet"
	"lathwatch/dashboards"
	"lathwatch/dashboards/sitter"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

//go:embed sitterform.html
var sitterFormText string

var sitterForm = template.Must(template.New("form").Parse(sitterFormText))

// sitterAsk is what the form shows.
type sitterAsk struct {
	From, Until, Phone string
	Away               string // the absence on record, in words
	Asked              bool   // a sheet is shown below
}

func (d *Daemon) sitterPage(w http.ResponseWriter, r *http.Request) (*dashboards.Part, error) {
	q := r.URL.Query()
	form := sitterAsk{From: q.Get("from"), Until: q.Get("until"), Phone: strings.TrimSpace(q.Get("phone"))}
	st := d.Standing()
	if st != nil && st.Away.Ahead(st.At) {
		a := sheet.Absence(st)
		form.Away = sheet.VisitWords(a.From) + " to " + sheet.VisitWords(a.Until)
	}
	if form.From == "" && form.Until == "" {
		return part("Sheet for the sitter", func(b io.Writer) error { return sitterForm.ExecuteTemplate(b, "page", form) })
	}
	a, err := sitterDays(form.From, form.Until)
	if err != nil {
		return nil, err
	}
	a.Phone, form.Asked = form.Phone, true
	s, err := makeSheet(st, a)
	if err != nil {
		return nil, err
	}
	var b strings.Builder
	if err := sitterForm.ExecuteTemplate(&b, "away", form); err != nil {
		return nil, err
	}
	return answeredWhole(w, "text/html; charset=utf-8", sitter.Page{Sheet: s, Extra: template.HTML(b.String())}.HTML)
}

func sitterDays(from, until string) (a sheet.Ask, err error) {
	for _, f := range []struct {
		name, text string
		at         *garden.Date
	}{{"from", from, &a.From}, {"until", until, &a.Until}} {
		t, err := time.Parse(time.DateOnly, f.text)
		if err != nil {
			return a, fmt.Errorf("%s %q is no date like 2027-08-03", f.name, f.text)
		}
		*f.at = garden.Date(t.Unix() / 86_400)
	}
	return a, nil
}

// sitterAway notes that the keeper goes away, or is back.
func (d *Daemon) sitterAway(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 4096)
	n := sensors.Note{At: d.cfg.Now().UTC().Truncate(time.Minute), Subject: "garden", What: sensors.Back}
	if r.PostFormValue("press") != "back" {
		a, err := sitterDays(r.PostFormValue("from"), r.PostFormValue("until"))
		if err == nil {
			_, err = makeSheet(d.Standing(), a)
		}
		if err != nil {
			http.Error(w, "This cannot be noted: "+err.Error()+".", http.StatusUnprocessableEntity)
			return
		}
		n.What, n.Detail = sensors.Away, a.From.String()+" "+a.Until.String()
	}
	if err := d.TakeNote(r.Context(), n); err != nil {
		http.Error(w, "This could not be noted: "+err.Error()+".", http.StatusUnprocessableEntity)
		return
	}
	http.Redirect(w, r, "/sitter", http.StatusSeeOther)
}

// sitting is the page on which the sitter ticks.
func (d *Daemon) sitting() http.Handler {
	return sitter.Handler(d.addresses("sitting"), sitter.Source{
		Page: func(context.Context) (sitter.Page, bool) {
			st := d.Standing()
			if st == nil || st.Garden == nil || !st.Away.Ahead(st.At) {
				return sitter.Page{}, false
			}
			return sitter.Of(st), true
		},
		Tick: func(ctx context.Context, row sheet.Row) error {
			at := d.cfg.Now().UTC().Truncate(time.Minute) // a double press is one note
			for _, pot := range row.Pots {
				if err := d.TakeNote(ctx, sensors.Note{At: at, Subject: pot, What: sensors.Done, Detail: string(sensors.Watered) + " " + row.Amount()}); err != nil {
					return err
				}
			}
			return nil
		}})
}
