package review

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image/png"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"lathwatch/dashboards/curve"
	"lathwatch/sensors/garden"
)

var utc = garden.Calendar{Zone: time.UTC}

func at(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return t
}

func date(s string) garden.Date { return utc.DateOf(at(s + " 12:00")) }

func TestAWateringIsJudgedByThePotsNeed(t *testing.T) {
	rest := Watering{Low: 200, Target: 350, LowDays: 3, BeforeOK: true} // a dry-winter pot at rest
	for _, c := range []struct {
		name   string
		before int64
		dry    float64
		frozen bool
		want   string
	}{{"dry for its days", 170, 3.2, false, WaterNeeded}, {"dry, not for long", 190, 1, false, WaterInTime}, {"dry for a week", 120, 7, false, WaterLate},
		{"a little over the limit", 240, 0, false, WaterEarly}, {"near the target", 300, 0, false, WaterNeedless}, {"wet", 600, 0, false, WaterNeedless}, {"frozen", 100, 5, true, WaterFrozen}} {
		w := rest
		w.Before, w.DryDays, w.Frozen = c.before, c.dry, c.frozen
		if got := judgeWatering(&w, true); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	if got := judgeWatering(&Watering{Before: 100}, true); got != WaterUnknown {
		t.Error(got)
	}
}

// A winter small enough to follow by hand.
func small() *Winter {
	w := &Winter{Version: Version, Season: 2027, Site: "Brook Yard", Zone: "UTC", From: date("2026-09-01"), Until: date("2027-05-31"),
		Places: []Place{{ID: "table", Name: "under the table", Roof: true}, {ID: "wall", Name: "at the wall", Shaded: true}},
		Pots: []Pot{{ID: "D7", Plant: "f", Regime: "dry-winter", Place: "table", Own: true, Nose: date("2027-04-12"), Dressed: date("2027-03-30"), ColdStart: date("2026-10-20"), EnoughOn: date("2027-01-10"),
			Credit: [2]float64{70, 72}, Forcing: [2]float64{130, 131}}, {ID: "D8", Plant: "g", Regime: "dry-winter", Place: "table"}},
		Nights: []Night{{Date: date("2027-04-04"), Place: "wall", Min: -3800, Whole: true, OK: true, Expected: -3400, Opened: 9, Warned: true},
			{Date: date("2027-04-04"), Place: "table", Min: -1900, Whole: true, OK: true, Expected: 400},
			{Date: date("2027-04-05"), Place: "wall", Min: 2500, Whole: true, OK: true, Expected: -500},
			{Date: date("2027-04-06"), Place: "wall", Min: 600, Whole: true, OK: true, Expected: 300},
			{Date: date("2027-04-07"), Place: "wall", Min: -900, Whole: true, Opened: 2}}}
	for d := date("2027-03-01"); d <= date("2027-05-01"); d++ {
		day := PotDay{Date: d, Cold: [2]float64{70, 72}, TempOK: true, Min: 1000, Max: 6000, WetOK: true, WetLow: 180, WetHigh: 200}
		if d >= date("2027-03-20") && d < date("2027-04-12") {
			day.Early, day.Late, day.How = date("2027-04-08"), date("2027-04-26"), "class guess"
		}
		if d > date("2027-04-20") {
			day.WetLow, day.WetHigh = 300, 320
		}
		w.Pots[0].Days = append(w.Pots[0].Days, day)
	}
	w.Pots[0].Waterings = []Watering{{At: at("2027-03-16 08:00"), ML: 150, Judged: WaterNeeded}}
	for k := range w.Places {
		for d := w.From; d <= w.Until; d++ {
			w.Places[k].Days = append(w.Places[k].Days, AirDay{Date: d, Min: 1000 + int64(k)*500, Max: 7000, Mean: 4000, Covered: 86_400})
		}
	}
	return w
}

func came(w *Winter, m Message) Message {
	w.Said = []Message{m}
	w.came()
	return w.Said[0]
}

func TestEachMessageIsHeldAgainstWhatFollowed(t *testing.T) {
	dry := []potState{{id: "D7", wet: 180, wetOK: true, dryDays: 3.1, lowDays: 3, low: 200}}
	for _, c := range []struct {
		name string
		m    Message
		good Answer
		say  string
	}{
		{"frost came", Message{Kind: "frost-tonight", At: at("2027-04-04 18:30"), Place: "wall"}, BorneOut, "−3.8"},
		{"no frost came", Message{Kind: "frost-tonight", At: at("2027-04-05 18:30"), Place: "wall"}, NotBorne, "no frost"},
		{"nearly", Message{Kind: "frost-tonight", At: at("2027-04-06 18:30"), Place: "wall"}, BorneOut, "near enough for leaves"},
		{"nobody looked", Message{Kind: "frost-tonight", At: at("2027-04-20 18:30"), Place: "wall"}, Open, "not watched"},
		{"watered the next day", Message{Kind: "water-light", At: at("2027-03-15 08:00"), Pots: []string{"D7"}, state: dry}, BorneOut, "D7 watered"},
		{"not watered", Message{Kind: "water-light", At: at("2027-04-05 08:00"), Pots: []string{"D7"}, state: dry}, BorneOut, "not watered and no wetter"},
		{"came up by itself", Message{Kind: "water-light", At: at("2027-04-19 08:00"), Pots: []string{"D7"}, state: dry}, NotBorne, "not needed"},
		{"asked too soon", Message{Kind: "water", At: at("2027-03-15 08:00"), Pots: []string{"D7"}, state: []potState{{id: "D7", wet: 600, wetOK: true, low: 550}}}, NotBorne, "early"},
		{"asked late", Message{Kind: "water", At: at("2027-03-15 08:00"), Pots: []string{"D7"}, state: []potState{{id: "D7", wet: 400, wetOK: true, dryDays: 2, low: 550}}}, BorneOut, "late"},
		{"dressed in time", Message{Kind: "dress-now", At: at("2027-03-29 08:00"), Pots: []string{"D7"}}, BorneOut, "14 days later"},
		{"dressed too soon", Message{Kind: "dress-now", At: at("2027-03-01 08:00"), Pots: []string{"D7"}}, NotBorne, "42 days later: early"},
		{"dressed too late", Message{Kind: "dress-now", At: at("2027-04-10 08:00"), Pots: []string{"D7"}}, NotBorne, "2 days later: late"},
		{"a nose after the warm spell", Message{Kind: "warm-spell", At: at("2027-03-28 08:00"), Pots: []string{"D7"}}, BorneOut, "15 days later"},
		{"no nose after it", Message{Kind: "warm-spell", At: at("2027-02-01 08:00"), Pots: []string{"D7"}}, NotBorne, "no nose"},
		{"not over yet", Message{Kind: "warm-spell", At: at("2027-05-20 08:00"), Pots: []string{"D8"}}, Open, "no nose"},
	} {
		got := came(small(), c.m)
		if got.Good != c.good || !strings.Contains(got.Came, c.say) {
			t.Errorf("%s: %s, %q; want %s with %q", c.name, got.Good, got.Came, c.good, c.say)
		}
	}
}

func TestEveningsAreScoredAgainstNights(t *testing.T) {
	s := small().Frosts("wall")
	// By hand: errors +0.4, −3.0, −0.3 °C; the fourth night had nothing expected but mattered.
	want := Score{Nights: 3, Frosts: 1, Foreseen: 1, FalseAlarms: 1, Quiet: 1, Bias: -2.9 / 3, Error: 1.7559, Mattered: 2, Told: 1}
	if d := cmp.Diff(want, s, cmpopts.EquateApprox(0, 1e-4)); d != "" {
		t.Error(d)
	}
	if s := small().Frosts("table"); s.Unforeseen != 1 || s.Frosts != 1 {
		t.Errorf("%+v", s)
	}
}

func TestANoseIsHeldAgainstTheWindowAFortnightBefore(t *testing.T) {
	p := &small().Pots[0]
	if got := against(p.windowOn(p.Nose-14), p.Nose); got != "inside" {
		t.Error(got)
	}
	for nose, want := range map[string]string{"2027-04-05": "3 days before it", "2027-04-28": "2 days after it"} {
		if got := against(p.windowOn(p.Nose-14), date(nose)); got != want {
			t.Errorf("%s: %q, want %q", nose, got, want)
		}
	}
}

func report() *Report {
	w := small()
	w.Said = []Message{{Kind: "frost-tonight", At: at("2027-04-04 18:30"), Place: "wall", Pots: []string{"D7", "<b>D8</b>"}, Text: "Frost tonight"}}
	w.came()
	old := small().Brief()
	old.Season = 2026
	return &Report{Winter: w, Others: []*Winter{old}}
}

func TestThePageStandsAlone(t *testing.T) {
	var b bytes.Buffer
	if err := report().HTML(&b); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	for _, no := range []string{"<script", "src=", "href=", "@import", "http://", "https://", "<b>D8"} {
		if strings.Contains(page, no) {
			t.Errorf("the page holds %q", no)
		}
	}
	if n := strings.Count(page, `role="img"`); n != len(report().Sheet().Charts) || n < 4 {
		t.Errorf("%d drawings", n)
	}
	for _, v := range regexp.MustCompile(`var\((--[a-z]+)\)`).FindAllStringSubmatch(page, -1) {
		if !strings.Contains(page, v[1]+":") {
			t.Errorf("%s has no colour", v[1])
		}
	}
	for _, want := range []string{"The winter of 2026 to 2027 at Brook Yard", "@page{size:A4 portrait", "What was said and what came of it"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

func TestThePictureHasCurvesAndWords(t *testing.T) {
	var b bytes.Buffer
	if err := report().PNG(&b); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	frost, ink := 0, 0
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			switch r, g, bl, _ := img.At(x, y).RGBA(); {
			case r>>8 == 0x0a && g>>8 == 0x5a && bl>>8 == 0xa0:
				frost++
			case r>>8 < 0x30 && g>>8 < 0x30 && bl>>8 < 0x30:
				ink++
			}
		}
	}
	if img.Bounds().Dx() != pngWide || frost < 2000 || ink < 5000 {
		t.Errorf("%v, %d pixels of curve, %d of words", img.Bounds(), frost, ink)
	}
}

// The painter reads the very paths the page draws.
func TestPathsAreReadBackAsTheyWereDrawn(t *testing.T) {
	w := curve.Window{From: 0, Until: 400, Low: 0, High: 2000, Cols: 100}
	d := curve.Line(func(yield func(curve.Point) bool) {
		for _, p := range []curve.Point{{At: 0, V: 0}, {At: 100, V: 500}, {At: 200, V: 1000}, {At: 300, V: 0}} {
			if !yield(p) {
				return
			}
		}
	}, w)
	got, closed := tracks(d)
	want := [][]spot{{{0, 2000}, {100, 1500}, {200, 1000}, {300, 2000}}}
	if diff := cmp.Diff(want, got, cmp.AllowUnexported(spot{})); diff != "" || closed {
		t.Error(d, diff)
	}
	if all, closed := tracks("M0 5l4-3 4 8ZM9 9l0 0"); len(all) != 2 || !closed || all[0][2] != (spot{8, 10}) {
		t.Error(all, closed)
	}
}

func TestTheTableOfFiguresReadsBack(t *testing.T) {
	var b bytes.Buffer
	if err := report().CSV(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"season,about,id,figure,date,low,high,unit\n", "2027,pot,D7,cold credit,,70.0,72.0,d\n", "2027,pot,D7,nose,2027-04-12,,,\n", "2026,pot,D7,nose,2027-04-12,,,\n",
		"2027,place,wall,air,2026-09-01,1.500,7.000,Cel\n", "2027,message,frost-tonight,borne out,2027-04-04T18:30:00Z,yes,yes,"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("lacks %q", want)
		}
	}
}

func TestAWinterPassesThroughJSON(t *testing.T) {
	w := report().Winter
	b, err := json.Marshal(w)
	if err != nil {
		t.Fatal(err)
	}
	var back Winter
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(*w, back, cmpopts.IgnoreUnexported(Message{}, PotDay{}), cmpopts.EquateEmpty()); d != "" {
		t.Error(d)
	}
}

func TestAPlaceAloneShowsItsOwn(t *testing.T) {
	r := report()
	r.Place = "wall"
	if n := len(r.pots()); n != 0 {
		t.Errorf("%d pots stood at the wall", n)
	}
	r.Winter.Pots[0].Moves = []Move{{At: date("2027-03-28"), To: "wall"}}
	if n := len(r.pots()); n != 1 {
		t.Errorf("%d pots stood at the wall", n)
	}
}

func TestTheDoorHandsOutEveryFormAndRefusesTheRest(t *testing.T) {
	h := Handler(func(_ context.Context, season int) (*Winter, []*Winter, error) {
		if season != 0 && season != 2027 {
			return nil, nil, fmt.Errorf("season %d: %w", season, ErrNone)
		}
		return report().Winter, report().Others, nil
	})
	for _, c := range []struct {
		ask, kind string
		status    int
	}{{"", "text/html; charset=utf-8", 200}, {"?season=2027&as=svg", "image/svg+xml", 200}, {"?as=csv&place=wall", "text/csv; charset=utf-8", 200}, {"?as=png", "image/png", 200},
		{"?season=2019", "", 404}, {"?place=attic", "", 404}, {"?as=pdf", "", 400}, {"?season=x", "", 400}} {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest("GET", "/review"+c.ask, nil))
		if w.Code != c.status || c.kind != "" && w.Header().Get("Content-Type") != c.kind {
			t.Errorf("%q: %d %s", c.ask, w.Code, w.Header().Get("Content-Type"))
		}
	}
}
