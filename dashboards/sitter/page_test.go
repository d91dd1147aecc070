package sitter_test

import (
	"bytes"
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/alerts/sheet"
	"lathwatch/dashboards/sitter"
	"lathwatch/sensors/garden"
)

// away is a garden whose keeper is away: two measured pots at the wall and one under the table that wants to be dry.
func away() *alerts.Standing {
	g := &garden.Garden{Site: garden.Site{Name: "Lower Averne", Zone: time.UTC}, Sitter: garden.Sitter{First: 2, Every: 3, Hour: 18 * time.Hour, Phone: "0123 456"},
		Places: []garden.Place{{ID: "table", Name: "under the table", Roof: true}, {ID: "wall", Name: "at the wall"}},
		Pots:   []garden.Pot{{ID: "B1", Place: "table", Litres: 3000}, {ID: "W1", Place: "wall", Litres: 3000}, {ID: "W2", Place: "wall", Litres: 3000}}}
	at := time.Date(2027, 8, 4, 18, 30, 0, 0, time.UTC)
	cal := garden.Calendar{Zone: time.UTC}
	st := &alerts.Standing{At: at, Day: cal.DateOf(at), Season: 2027, Garden: g, Cal: cal, Away: alerts.Away{Since: at.Add(-56 * time.Hour), Until: at.Add(13 * 24 * time.Hour)}}
	for i := range g.Pots {
		ps := alerts.PotStanding{Pot: &g.Pots[i], Place: g.Pots[i].Place, Phase: garden.Growth, Regime: garden.RegimeNamed("dry-winter"), WetnessOK: true, DaysLeft: alerts.Interval{Low: 2, High: 4, OK: true}}
		if i == 0 {
			ps.Regime, ps.Phase = garden.RegimeNamed("dry-summer"), garden.Rest
		}
		st.Pots = append(st.Pots, ps)
	}
	return st
}

func page(t *testing.T, p sitter.Page) string {
	t.Helper()
	var b bytes.Buffer
	if err := p.HTML(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestThePageToPrintHasABoxAVisitAndNothingToPress(t *testing.T) {
	st := away()
	got := page(t, sitter.Page{Sheet: sheet.OfAbsence(st)})
	if n := strings.Count(got, `class="box"`); n != 2*5 || strings.Contains(got, "<button") || strings.Contains(got, "http") {
		t.Errorf("%d boxes for two rows and five visits:\n%s", n, got)
	}
	for _, want := range []string{"<strong>Wed 4 Aug</strong>", "W1, W2</th><td class=\"how\">0.4 litres each (0.8 litres for the row), every visit", "Worth a call: 0123 456"} {
		if !strings.Contains(got, want) {
			t.Errorf("lacks %q", want)
		}
	}
	body := strings.ToLower(got[strings.Index(got, "<body>"):])
	for _, word := range []string{"probe", "regime", "moisture", "drained", "threshold", "ledger", "sensor", "nose", "sentinel", "relative"} {
		if strings.Contains(body, word) {
			t.Errorf("the page says %q", word)
		}
	}
}

func TestARowThatWasTickedSaysSoAndWhatDoesNotShowIsNoReproach(t *testing.T) {
	st := away()
	st.Pots[1].Watered = st.At.Add(-20 * time.Minute)
	st.Recent = []alerts.Change{{Kind: "sitter-water", To: alerts.ToSitter, At: st.At.Add(-time.Hour), Text: "Please come tomorrow."}, {Kind: "gap", At: st.At, Text: "For the keeper."}}
	got := page(t, sitter.Of(st))
	if !strings.Contains(got, "done, Wed 18:10") || !strings.Contains(got, "Please come tomorrow.") || strings.Contains(got, "For the keeper.") || strings.Contains(got, "does not show") {
		t.Error(got)
	}
	st.At = st.At.Add(24 * time.Hour)
	st.Pots[1].Contact = st.Pots[1].Watered
	got = page(t, sitter.Of(st))
	if strings.Contains(got, "done, ") || !strings.Contains(got, "The water of Wed 4 Aug does not show in W1. It may have run past dry soil: please pour slowly, in two goes.") {
		t.Error(got)
	}
}

type held string

func (h held) Holds(_ context.Context, secret string) (bool, error) { return secret == string(h), nil }

// Whoever has the address may tick a row of the sheet as it stands, and nothing else; nobody else sees that there is one.
func TestOnlyTheSecretAddressTicks(t *testing.T) {
	secret, st, ticked := held(strings.Repeat("k3-Y", 8)), away(), []string(nil)
	gone := false
	h := sitter.Handler(secret, sitter.Source{Page: func(context.Context) (sitter.Page, bool) { return sitter.Of(st), !gone },
		Tick: func(_ context.Context, r sheet.Row) error {
			ticked = append(ticked, strings.Join(r.Pots, " ")+": "+r.Amount())
			return nil
		}})
	ask := func(method, path, pots string) (int, string) {
		w := httptest.NewRecorder()
		r := httptest.NewRequest(method, path, strings.NewReader(url.Values{"pots": {pots}}.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		h.ServeHTTP(w, r)
		return w.Code, w.Body.String()
	}
	right := sitter.Path + string(secret)
	for _, c := range []struct {
		method, path, pots string
		status             int
	}{{"GET", right, "", 200}, {"GET", sitter.Path, "", 404}, {"GET", right + "A", "", 404}, {"POST", right[:len(right)-1] + "x", "W1 W2", 404},
		{"POST", right, "W1 W2", http.StatusSeeOther}, {"POST", right, "W1", 409}, {"POST", right, "B1", 409}, {"POST", right, "", 409}} {
		if code, _ := ask(c.method, c.path, c.pots); code != c.status {
			t.Errorf("%s %s %q: %d, want %d", c.method, c.path, c.pots, code, c.status)
		}
	}
	if len(ticked) != 1 || ticked[0] != "W1 W2: 400 mL" {
		t.Error(ticked)
	}
	gone = true
	if code, body := ask("GET", right, ""); code != 200 || !strings.Contains(body, "Nobody is away") {
		t.Error(code, body)
	}
	if ask("POST", right, "W1 W2"); len(ticked) != 1 {
		t.Error("ticked while nobody is away:", ticked)
	}
}
