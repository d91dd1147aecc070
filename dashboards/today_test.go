package dashboards

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
)

func TestTheSentenceComesFirstAndIsTheTitle(t *testing.T) {
	p, _ := open(t, tansyBank(), nil)
	r := page(t, p, "/")
	r.says("h1", "Water B3 lightly today. Next is B1, in 12 to 19 days.")
	r.says("title", textOf(r.one("h1")))
	if first := textOf(r.all("body header")[0]); !strings.HasPrefix(first, "Water B3 lightly today.") {
		t.Errorf("the page begins %q", first)
	}
}

func TestEveryPotSaysWhatIsLeftOrWhyNobodyKnows(t *testing.T) {
	p, _ := open(t, tansyBank(), nil)
	r := page(t, p, "/")
	for _, c := range []struct{ pot, state, left, reading, line string }{
		{"B1", "ok", "12–19 d", "30 %", "dry winter, early"},
		{"B2", "frozen", "frozen", "50 %", "since 14 Jan; last 50 % on 13 Jan"},
		{"B2", "frozen", "frozen", "50 %", "under snow: leave it"},
		{"B3", "today", "today", "16 %", "dry since 22 Jan"},
		{"B4", "silent", "silent", "41 %", "since 03:07; last 41 % today"},
		{"B5", "ask", "needs marks", "", "dry winter, middle"},
		{"B6", "suspect", "check probe", "48 %", "no rise since the thaw"},
		{"B7", "suspect", "in doubt", "52 %", "doubtful reading"},
		{"W8", "ok", "60+ d", "74 %", "wet winter"},
		{"W9", "ok", "60+ d", "78 %", "opening"},
		{"W10", "ask", "wet or dry?", "82 %", "its winter water is not said"},
		{"W11", "none", "before W8", "", "wet winter"},
		{"W12", "none", "as W8", "", "wet winter"},
	} {
		li := "li.pot[data-state=state." + c.pot + "]"
		// A dot inside a value is not a class: look the pot up by its attribute.
		var found bool
		for _, n := range r.all("li.pot") {
			if attr(n, "data-state") != "state."+c.pot {
				continue
			}
			found = true
			text := textOf(n)
			if !oneOf(c.state, strings.Fields(attr(n, "class"))) || !strings.HasPrefix(text, strings.TrimSpace(c.left+" "+c.reading)) || !strings.Contains(text, c.line) {
				t.Errorf("%s (%s) says %q, want %q %q and %q", c.pot, attr(n, "class"), text, c.left, c.reading, c.line)
			}
		}
		if !found {
			t.Errorf("no %s", li)
		}
	}
}

func TestPotsStandLeftToRightAtTheirPlace(t *testing.T) {
	st := tansyBank()
	st.Pots[0].Place = "wall" // moved by a note
	p, _ := open(t, st, nil)
	r := page(t, p, "/")
	if got := strings.Join(r.texts("section#place-wall .name b"), " "); got != "B1 W8 W9 W10 W11 W12" {
		t.Errorf("at the wall stand %s", got)
	}
	if got := strings.Join(r.texts("section#place-shelter .name b"), " "); got != "B2 B3 B4 B5 B6 B7" {
		t.Errorf("under the shelter stand %s", got)
	}
	r.one("section#place-shelter.table")
	r.one("section#place-wall.ground")
}

func TestAPotWhosePlaceNobodyKnowsIsStillDrawn(t *testing.T) {
	st := tansyBank()
	st.Pots[0].Place = ""
	p, _ := open(t, st, nil)
	page(t, p, "/").says("section#place-elsewhere", "B1")
}

func TestThePlaceLineSaysAirTrendAndTheComingLow(t *testing.T) {
	p, _ := open(t, tansyBank(), nil)
	r := page(t, p, "/")
	r.says("section#place-shelter dl.air.frost", "3.4 °C, falling 0.6 °C an hour")
	r.says("section#place-shelter dl.air .tonight", "−2.1 to 0.4 °C first-season guess")
	r.says("section#place-shelter dl.air", "0.8 °C warmer than the shaded place")
}

func TestASilentGardenSaysSoInsteadOfShowingOldFigures(t *testing.T) {
	p, _ := open(t, silentBank(), nil)
	r := page(t, p, "/")
	if got := strings.Join(r.texts(".warning"), "|"); !strings.Contains(got, "No probe answers") {
		t.Errorf("warnings: %q", got)
	}
	r.says("section#place-wall dl.air", "silent since 05:07; last 2.5 °C")
	if n := len(r.all("li.pot.silent")); n < 8 {
		t.Errorf("%d pots are called silent", n)
	}
	if n := len(r.all("li.pot.ok")); n != 0 {
		t.Errorf("%d pots look fine although nothing was heard for nine hours", n)
	}
}

func TestStoppedRoundsAreSaidOnThePage(t *testing.T) {
	p, _ := open(t, tansyBank(), func(c *Config) { c.Now = func() time.Time { return tansyNow.Add(40 * time.Minute) } })
	if got := strings.Join(page(t, p, "/").texts(".warning"), "|"); !strings.Contains(got, "No round has been walked since 14:05") {
		t.Errorf("warnings: %q", got)
	}
}

func TestMessagesThatReachNobodyAreSaid(t *testing.T) {
	p, _ := open(t, tansyBank(), nil)
	page(t, p, "/").says(".reach", "Messages stay on this board: no way out is configured yet.")
}

func TestGraveAlertsStandFirstAndSeenOnesAside(t *testing.T) {
	p, _ := open(t, tansyBank(), nil)
	r := page(t, p, "/")
	if n := len(r.all("#alerts .alert")); n != 2 {
		t.Errorf("%d open alerts", n)
	}
	r.says("#alerts .alert.grave", "Tonight: W9 is opening")
	r.says("details.seen .alert", "Lift B6")
}

func TestAlertsToldInTheSameWordsAreOneLineAndOnePress(t *testing.T) {
	st := tansyBank()
	second := st.Alerts[1]
	second.Subject = "B4"
	st.Alerts = append(st.Alerts, second)
	p, h := open(t, st, nil)
	r := page(t, p, "/")
	if n := len(r.all("#alerts .alert")); n != 2 {
		t.Fatalf("%d lines for three alerts, two of them alike", n)
	}
	form := url.Values{"press": {"seen"}, "kind": {"water-light"}}
	for _, n := range r.all("#alerts .alert input[name=subject]") {
		if s := attr(n, "value"); s != "wall" {
			form.Add("subject", s)
		}
	}
	ask(t, p, "POST", "/alert", form, nil)
	if n := h.taken(); len(n) != 2 || n[0].Subject != "B3" || n[1].Subject != "B4" {
		t.Errorf("%+v", n)
	}
}

func TestAPotThatIsGoneIsNotDrawnButKeepsItsPage(t *testing.T) {
	st := tansyBank()
	st.Pots[0].Gone = tansyNow.AddDate(0, 0, -1)
	p, _ := open(t, st, nil)
	if n := len(page(t, p, "/").all("input[value=B1]")); n != 0 {
		t.Error("it is still on the bench")
	}
	page(t, p, "/pot/B1").says("main", "No longer here since yesterday")
}

func TestBeforeTheFirstRoundThePageSaysStarting(t *testing.T) {
	for name, st := range map[string]*alerts.Standing{"no standing": nil, "no garden": {}} {
		p, _ := open(t, st, nil)
		r := page(t, p, "/")
		if r.Code != 200 {
			t.Errorf("%s: %d", name, r.Code)
		}
		r.says("h1", "Starting")
	}
}

func TestEmptyManyAndFirstDayGardensAreDrawn(t *testing.T) {
	p, _ := open(t, emptyBank(), nil)
	page(t, p, "/").says(".first h2", "No pots yet")
	p, _ = open(t, firstDay(), nil)
	page(t, p, "/").says(".first h2", "Nothing has been heard yet")
	p, _ = open(t, manyBank(), nil)
	if n := len(page(t, p, "/").all("li.pot input[name=pot]")); n != 120 {
		t.Errorf("%d of 120 pots can be ticked", n)
	}
}

func TestDaysLeftAreShortAndCapped(t *testing.T) {
	iv := func(low, high float64) alerts.Interval { return alerts.Interval{Low: low, High: high, OK: true} }
	for _, c := range []struct {
		in   alerts.Interval
		want string
	}{{alerts.Interval{}, ""}, {iv(0, 0), "today"}, {iv(0.2, 1.1), "by tomorrow"}, {iv(1, 1), "tomorrow"}, {iv(6, 6), "6 d"}, {iv(12.2, 18.9), "12–19 d"},
		{iv(40, 90), "40+ d"}, {iv(61, 141), "60+ d"}, {iv(141, 141), "60+ d"}, {iv(-2, 3), "0–3 d"}} {
		if got := strings.ReplaceAll(daysLeft(c.in), nbsp, " "); got != c.want {
			t.Errorf("%v is %q, want %q", c.in, got, c.want)
		}
	}
}

func TestFahrenheitGardensReadFahrenheit(t *testing.T) {
	st := tansyBank()
	st.Garden.Site.Fahrenheit = true
	p, _ := open(t, st, nil)
	r := page(t, p, "/")
	r.says("section#place-shelter dl.air", "38.1 °F, falling 1.1 °F an hour")
	r.says("fieldset.verbs", "How much, in fl oz")
}

func TestNumbersHaveATrueMinusAndNoSignOnNought(t *testing.T) {
	for v, want := range map[float64]string{-0.04: "0.0", -0.06: "−0.1", 0: "0.0", 3.25: "3.2"} {
		if got := number(v, 1); got != want {
			t.Errorf("%v reads %q, want %q", v, got, want)
		}
	}
}
