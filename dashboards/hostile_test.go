package dashboards

import (
	"encoding/xml"
	"errors"
	"io"
	"net/url"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lathwatch/sensors"
)

// TestNoTextBecomesMarkup puts markup wherever a person or a file may write and looks for it on every page and in the picture.
func TestNoTextBecomesMarkup(t *testing.T) {
	const bad = `"><script>alert(1)</script><b x='`
	st := tansyBank()
	g := st.Garden
	g.Site.Name, g.Places[0].Name, g.Places[0].Facing, g.Plants[0].Name, g.Pots[0].Mix = bad, bad, bad, bad, bad
	st.Sentence, st.Reach, st.Alerts[0].Text, st.Alerts[0].Kind, st.Recent[0].Text = bad, bad, bad, bad, bad
	st.Places[0].ExpectedHow, st.Pots[0].Verdict, st.Pots[0].BreakHow = bad, bad, bad
	st.Probes[0].Fault, st.Probes[0].FaultWhy, st.Garden.Probes[0].Depth = sensors.Garbled, bad, bad
	p, h := open(t, st, withPast)
	h.notes = append(h.notes, sensors.Note{ID: bad, At: tansyNow.AddDate(0, 0, -3), Made: tansyNow, Subject: "B1", What: sensors.Feel, Detail: bad},
		sensors.Note{ID: "x", At: tansyNow, Made: tansyNow, Subject: "B1", What: sensors.Remark, Detail: bad})
	for _, path := range []string{"/", "/winter?pot=B1&with=2026&beside=wall", "/winter/sheet?pot=B1", "/pot/B1", "/plant/P1", "/probe/B1-m", "/said", "/garden", "/pot/" + url.PathEscape(bad), "/sign-in?back=" + url.QueryEscape("/"+bad)} {
		r := page(t, p, path)
		if strings.Contains(r.Body, "<script>alert") || strings.Contains(r.Body, "<b x=") {
			t.Errorf("%s lets markup through", path)
		}
	}
	d := xml.NewDecoder(strings.NewReader(page(t, p, "/winter.svg?pot=B1").Body))
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if e, ok := tok.(xml.StartElement); ok && (e.Name.Local == "script" || e.Name.Local == "b") {
			t.Fatalf("the picture holds a %s", e.Name.Local)
		}
	}
}

// TestAnyAddressIsAnswered asks with any query: a page or a refusal in words, never a fault.
func TestAnyAddressIsAnswered(t *testing.T) {
	p, _ := open(t, tansyBank(), withPast)
	days := rapid.SampledFrom([]string{"", "2027-01-01", "2026-10-25T01:30", "2027-03-28T01:30", "2016-09-01", "2030-02-30", "0000-00-00", "9999-12-31", "-1"})
	words := rapid.SampledFrom([]string{"", "shelter", "wall", "B1", "W9", "all", "2026", "-1", "99999999999999999999", "<b>", "\x00", "2027"})
	rapid.Check(t, func(rt *rapid.T) {
		v := url.Values{}
		for _, k := range []string{"from", "to"} {
			v.Set(k, days.Draw(rt, k))
		}
		for _, k := range []string{"season", "place", "beside", "with", "pot", "cols"} {
			v.Set(k, words.Draw(rt, k))
		}
		path := rapid.SampledFrom([]string{"/winter", "/winter/sheet", "/winter.csv", "/winter.svg"}).Draw(rt, "path")
		if r := ask(t, p, "GET", path+"?"+v.Encode(), nil, nil); r.Code != 200 && r.Code != 422 {
			rt.Fatalf("%s?%s: %d", path, v.Encode(), r.Code)
		}
	})
}
