package rules

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// aboutNoPot are the kinds that speak of the board, its probes or the garden as a whole.
var aboutNoPot = map[string]bool{"gap": true, "hemisphere": true, "ice-bath": true, "clock": true, "storage": true, "broker-silent": true,
	"probe-silent": true, "battery": true}

// byPlace are the kinds that name places where a sitter knows no pots.
var byPlace = map[string]bool{"sitter-water": true}

// jargon are words a keeper should not have to know; a message has none of them.
var jargon = []string{"degree-day", "°C·d", "forcing", "credit", "threshold", "percentile", "quantile", "vpd", "kpa", "rmse", "regression", "dormancy",
	"phenology", "ledger", "offset", "epoch", "probe id", "index", "alert", "sensor fusion", "null", "nan", "payload", "topic", "quiescen", "vernali",
	"north", "south wall", "%!", "  "}

var sentenceEnd = regexp.MustCompile(`[.!?](\s|$)`)

// Every message is one sentence that names place and plants, in the units asked for, without jargon: rendered for every kind with
// one, two, three, many and very many pots, with every word a rule may pass.
func TestWordsOfEveryKind(t *testing.T) {
	for _, e := range All() {
		r, err := e.Build(table.Raw{})
		if err != nil {
			t.Fatal(e.Kind, err)
		}
		if e.Kind == "sitter-sheet" {
			continue // a page of its own, read in its own room
		}
		for _, fahrenheit := range []bool{false, true} {
			for _, pots := range []int{1, 2, 3, 7, 12} {
				for _, word := range wordsOf(e.Kind) {
					g := groupOf(e.Kind, pots, word, fahrenheit)
					t.Run(fmt.Sprintf("%s/%d/%s/fahrenheit=%v", e.Kind, pots, word, fahrenheit), func(t *testing.T) {
						judgeWords(t, g, r.Say(g), fahrenheit)
					})
				}
			}
		}
	}
}

func judgeWords(t *testing.T, g alerts.Group, text string, fahrenheit bool) {
	t.Helper()
	wrong := func(why string) { t.Errorf("%s:\n%s", why, text) }
	if n := len(sentenceEnd.FindAllString(text, -1)); n != 1 || !sentenceEnd.MatchString(text[len(text)-1:]) {
		wrong(fmt.Sprintf("%d sentences", n))
	}
	if strings.ContainsAny(text, "\n!") || text[:1] != strings.ToUpper(text[:1]) {
		wrong("a line break, a shout or a small beginning")
	}
	if len(text) > 480 {
		wrong(fmt.Sprintf("%d bytes are too long to read in the hand", len(text)))
	}
	for _, w := range jargon {
		if strings.Contains(strings.ToLower(text), w) {
			wrong("says " + w)
		}
	}
	if fahrenheit && regexp.MustCompile(`°C|\d mL|\d L\b`).MatchString(text) || !fahrenheit && regexp.MustCompile(`°F|fl oz`).MatchString(text) {
		wrong("speaks in the wrong units")
	}
	if aboutNoPot[g.Kind] {
		return
	}
	if !strings.Contains(text, "shelter table") {
		wrong("does not name the place")
	}
	if byPlace[g.Kind] {
		return
	}
	if !strings.Contains(text, "P1") {
		wrong("does not name a pot")
	}
	if n := len(g.Pots()); n <= 3 && g.Kind != "frost-tonight" && !strings.Contains(text, "hybrid no 1") {
		wrong("does not name the plant")
	} else if n > 7 && !strings.Contains(text, "more") && !strings.Contains(text, "P12") {
		wrong("loses pots")
	}
	if g.Kind == "frost-tonight" {
		for _, p := range g.Pots() {
			if !regexp.MustCompile(p + `\b`).MatchString(text) {
				wrong("leaves " + p + " out in the frost")
			}
		}
	}
}

// wordsOf are the words a rule of a kind may pass.
func wordsOf(kind string) []string {
	switch kind {
	case "frost-tonight":
		return []string{alerts.UnderShelter, alerts.ShelterAndFleece, alerts.Fleece, alerts.Indoors}
	case "dress-now":
		return []string{"nose", alerts.HowClass}
	case "hemisphere":
		return []string{"missing", "upside"}
	case "overdue":
		return []string{"", "short"}
	case "feed-stop":
		return []string{"flower", "date"}
	case "moved":
		return []string{"wall"}
	case "probe-silent":
		return []string{"import", "w1"}
	case "move-out":
		return []string{"", "at the shaded wall"}
	case "battery":
		return []string{"the air thermometer"}
	}
	return []string{""}
}

func groupOf(kind string, pots int, word string, fahrenheit bool) alerts.Group {
	g := &garden.Garden{Site: garden.Site{ID: "dell", Latitude: 52, Longitude: 8, Zone: time.UTC, Fahrenheit: fahrenheit},
		Places: []garden.Place{{ID: "table", Name: "the shelter table"}, {ID: "roof", Name: "the big roof", Roof: true}, {ID: "wall", Name: "the shaded wall", Shaded: true}}}
	at := time.Date(2027, 4, 4, 17, 0, 0, 0, time.UTC)
	st := &alerts.Standing{At: at, Garden: g, Cal: garden.Calendar{Zone: time.UTC}}
	for i := range g.Places {
		st.Places = append(st.Places, alerts.PlaceStanding{Place: &g.Places[i], Expected: alerts.Interval{Low: -3, High: -3, OK: true},
			ExpectedFirm: true, ExpectedHow: alerts.HowFirst})
	}
	out := alerts.Group{St: st, Kind: kind, Place: "table"}
	facts := alerts.Facts{Amount: 1200, Wet: 180, Temp: -3400, Limit: -2000, From: at.Add(-48 * time.Hour), Until: at, Low: 200, High: 650, Count: 3, Guess: true, Word: word}
	if kind == "heat-pocket" || kind == "shield-sensor" {
		facts.High = 14
	}
	for i := range pots {
		id := fmt.Sprintf("P%d", i+1)
		pot, plant := &garden.Pot{ID: id, Plant: id, Place: "table", Litres: units.Volume(3000)}, &garden.Plant{ID: id, Name: fmt.Sprintf("hybrid no %d", i+1)}
		st.Pots = append(st.Pots, alerts.PotStanding{Pot: pot, Plant: plant, Place: "table"})
		out.Items = append(out.Items, alerts.Finding{Subject: id, Place: "table", Pots: []string{id}, Ripe: 1, Level: 1, Facts: facts})
	}
	if aboutNoPot[kind] {
		out.Place, out.Items = "", out.Items[:1]
		out.Items[0].Pots, out.Items[0].Subject, out.Items[0].Place = nil, "garden", ""
	}
	return out
}

// The first line of page and digest must never say that nothing is to do while a message stands.
func TestEveryKindHasWordsForTheFirstLine(t *testing.T) {
	for _, e := range All() {
		if !alerts.Tasked(e.Kind) {
			t.Errorf("%s has no words for the first line", e.Kind)
		}
	}
}
