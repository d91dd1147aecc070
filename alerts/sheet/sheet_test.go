package sheet_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/alerts/sheet"
	"lathwatch/sensors/garden"
)

// Twelve growing pots at a wall in August, watched by one probe, and two under a table that want to be dry.
func summer() *alerts.Standing {
	g := &garden.Garden{Site: garden.Site{Name: "Lower Averne"}, Sitter: garden.Sitter{First: 1, Every: 3, Hour: 18 * time.Hour}, Places: []garden.Place{{ID: "table", Name: "under the table", Roof: true}, {ID: "wall", Name: "at the wall"}}}
	cal := garden.Calendar{Zone: time.UTC}
	at := time.Date(2027, 8, 2, 18, 0, 0, 0, time.UTC)
	st := &alerts.Standing{At: at, Day: cal.DateOf(at), Season: 2027, Garden: g, Cal: cal}
	for i := range 14 {
		p := garden.Pot{ID: fmt.Sprintf("W%d", i+1), Place: "wall", Litres: 3000}
		if i == 0 {
			p.Relatives = []string{"W2", "W3", "W4", "W5"}
		}
		if i >= 12 {
			p.ID, p.Place = fmt.Sprintf("B%d", i-11), "table"
		}
		g.Pots = append(g.Pots, p)
	}
	for i := range g.Pots {
		ps := alerts.PotStanding{Pot: &g.Pots[i], Place: g.Pots[i].Place, Phase: garden.Growth, Regime: garden.RegimeNamed("dry-winter")}
		if i == 0 {
			ps.WetnessOK, ps.DaysLeft = true, alerts.Interval{Low: 2, High: 4, OK: true}
		}
		if i >= 12 {
			ps.Regime, ps.Phase = garden.RegimeNamed("dry-summer"), garden.Rest
		}
		st.Pots = append(st.Pots, ps)
	}
	return st
}

func ask(st *alerts.Standing) sheet.Ask {
	d := func(day int) garden.Date { return st.Cal.DateOf(time.Date(2027, 8, day, 12, 0, 0, 0, time.UTC)) }
	return sheet.Ask{From: d(3), Until: d(17), Visits: []garden.Date{d(4), d(7), d(10), d(13), d(16)}}
}

func text(t *testing.T, s *sheet.Sheet) string {
	t.Helper()
	var b bytes.Buffer
	if err := s.Text(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestTheSheetGoesByPlaceInWalkingOrderWithLitres(t *testing.T) {
	st := summer()
	got := text(t, sheet.Make(st, ask(st)))
	for _, want := range []string{"Looking after the pots at Lower Averne, 3 August to 17 August", "Please come on Wed 4 Aug, Sat 7 Aug, Tue 10 Aug, Fri 13 Aug, Mon 16 Aug",
		"Under the table, from the first pot to the last:\n1. B1, B2: no water, they want to be dry", "At the wall, from the first pot to the last:\n1. W1, W2, W3, W4, W5: 0.4 litres each (2.0 litres for the row), every visit\n",
		"2. W6 to W12 (7 pots): 0.4 litres each (2.8 litres for the row), every visit *\n* Nothing measures these: lift one first, and leave them if it is heavy.\n", "- Never feed them.", "- Do not move a pot", "- Leave the saucers"} {
		if !strings.Contains(got, want) {
			t.Errorf("lacks %q:\n%s", want, got)
		}
	}
	if s := sheet.Make(st, ask(st)); len(s.Call) != 3 || s.Cold {
		t.Errorf("%d things worth a call, frost in August: %v", len(s.Call), s.Cold)
	}
}

// A stranger must be able to read it: none of the words keepers and programmes use among themselves.
func TestTheSheetHasNoWordOfTheTrade(t *testing.T) {
	st := summer()
	text := strings.ToLower(text(t, sheet.Make(st, ask(st))))
	for _, word := range []string{"probe", "regime", "moisture", "drained", "index", "threshold", "ledger", "dormant", "substrate", "sensor", "forcing", "phase", "‰", "nose", "sentinel", "relative"} {
		if strings.Contains(text, word) {
			t.Errorf("the sheet says %q", word)
		}
	}
}

func TestInWinterFrostIsOnTheSheet(t *testing.T) {
	st := summer()
	a := ask(st)
	a.From, a.Until, a.Visits = a.From+150, a.From+160, nil
	for i := range st.Pots {
		st.Pots[i].Phase = garden.Rest
		st.Pots[i].Regime = garden.RegimeNamed("dry-winter")
	}
	got := text(t, sheet.Make(st, a))
	for _, want := range []string{"Never water a pot that is frozen hard", "Frost is to come and leaves are out", "0.2 litres each (0.4 litres for the row), only if it feels light"} {
		if !strings.Contains(got, want) {
			t.Errorf("lacks %q:\n%s", want, got)
		}
	}
}

func TestOuncesAndFahrenheitWhereTheSiteReadsThem(t *testing.T) {
	st := summer()
	st.Garden.Site.Fahrenheit = true
	got := text(t, sheet.Make(st, ask(st)))
	for _, want := range []string{"W1, W2, W3, W4, W5: 14 fl oz each (68 fl oz for the row), every visit", "About 1.3 gallons in all each visit.", "over 86 °F"} {
		if !strings.Contains(got, want) {
			t.Errorf("lacks %q:\n%s", want, got)
		}
	}
	if strings.Contains(got, "litre") || strings.Contains(got, "°C") {
		t.Error(got)
	}
}
