package dashboards

import (
	"encoding/csv"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
)

func TestTheWinterSheetDrawsEveryChartOverOneAxis(t *testing.T) {
	p, _ := open(t, tansyBank(), withPast)
	r := page(t, p, "/winter?pot=B1&beside=wall&with=2026")
	r.says("h1", "Winter 2026–27, Slatted shelter")
	var spans []string
	for _, n := range r.all("svg.chart") {
		spans = append(spans, attr(n, "data-chart")+" "+attr(n, "data-from")+" "+attr(n, "data-until"))
	}
	const axis = " 1790809200 1811804400" // 1 October 2026 to 1 June 2027 by London's clock, in seconds
	if want := []string{"air" + axis, "degree-days" + axis, "cold" + axis, "forcing" + axis, "water" + axis}; strings.Join(spans, "|") != strings.Join(want, "|") {
		t.Errorf("charts %q", spans)
	}
	for _, sel := range []string{"#fig-air .k-low", "#fig-air .k-high", "#fig-air .k-ribbon", "#fig-air .k-with", "#fig-air .k-beside", "#fig-cold .k-cold", "#fig-cold .k-withsum", "#fig-water .k-wet"} {
		found := false
		for _, n := range r.all(sel) {
			found = found || len(attr(n, "d")) > 10 || n.Data == "path"
		}
		if !found {
			t.Errorf("no %s", sel)
		}
	}
	if n := len(r.all("figure details.table tbody tr")); n < 60 {
		t.Errorf("the tables under the charts have %d rows", n)
	}
	if n := len(r.all("#fig-water svg.mark")); n != 4 {
		t.Errorf("%d marks on the pot's water, want leaf-down, two waterings and a feel", n)
	}
	if n := len(r.all("ul.winters li")); n != 11 {
		t.Errorf("%d winters in rows", n)
	}
	r.says("ul.winters li.laid", "Winter 2025–26")
}

func TestEveryWinterLaidOver(t *testing.T) {
	p, _ := open(t, tansyBank(), withPast)
	if n := len(page(t, p, "/winter?with=all").all("#fig-air .k-past")); n < 10 {
		t.Errorf("%d past winters are drawn", n)
	}
}

func TestAShortSpanDrawsTheReadingsThemselves(t *testing.T) {
	p, _ := open(t, tansyBank(), withPast)
	r := page(t, p, "/winter?from=2027-01-10&to=2027-01-16")
	if len(r.all("#fig-air .plot path.k-true")) != 1 || len(r.all("#fig-air .plot .k-ribbon")) != 0 {
		t.Error("a week is not drawn as a curve")
	}
}

// TestNoRequestReadsPastWintersByTheMinute: long sheets are drawn from day summaries alone, ten winters at once.
func TestNoRequestReadsPastWintersByTheMinute(t *testing.T) {
	we := tansyWeather()
	p, _ := open(t, tansyBank(), func(c *Config) { withPast(c); c.Curves = we })
	for _, path := range []string{"/winter?with=all&pot=B1", "/winter?from=2017-01-01&to=2027-01-20", "/winter.csv", "/winter.svg?with=2020"} {
		if r := page(t, p, path); r.Code != 200 {
			t.Errorf("%s: %d", path, r.Code)
		}
	}
	if we.minutes != 0 {
		t.Errorf("%d readings were walked", we.minutes)
	}
}

func TestSpansThatMakeNoSenseAreRefused(t *testing.T) {
	p, _ := open(t, tansyBank(), withPast)
	for path, want := range map[string]int{"/winter?from=2027-02-01&to=2027-01-01": 422, "/winter?from=1990-01-01&to=2027-01-01": 422, "/winter?from=2027-01-01T10:00&to=2027-01-01T12:00": 422,
		"/winter?from=nonsense&place=nowhere&with=x&pot=Z&cols=9999999": 200, "/winter?season=2020": 200, "/winter?season=99999": 200} {
		if r := page(t, p, path); r.Code != want {
			t.Errorf("%s: %d, want %d", path, r.Code, want)
		}
	}
}

func TestTheAddressSaysWhatTheSheetShows(t *testing.T) {
	st := tansyBank()
	q, err := askWinter(st, map[string][]string{"from": {"2027-01-10T06:30"}, "to": {"2027-01-12"}, "place": {"wall"}, "beside": {"shelter"}, "with": {"all"}, "pot": {"B1"}})
	if err != nil {
		t.Fatal(err)
	}
	again, err := askWinter(st, q.values(st.Cal))
	if err != nil || again != q {
		t.Errorf("%+v became %+v, %v", q, again, err)
	}
}

func TestThePastIsNotSentTwice(t *testing.T) {
	p, h := open(t, tansyBank(), withPast)
	path := "/winter?season=2025&from=2024-10-01&to=2025-05-31"
	tag := page(t, p, path).Header.Get("ETag")
	st := *h.Standing()
	st.At = st.At.Add(5 * time.Minute) // another round was walked
	h.set(&st)
	r := ask(t, p, "GET", path, nil, func(r *http.Request) { r.Header.Set("If-None-Match", tag) })
	if tag == "" || r.Code != http.StatusNotModified || r.Body != "" {
		t.Errorf("tag %q: %d with %d bytes", tag, r.Code, len(r.Body))
	}
}

// TestSumsAgreeWithTheIndices adds a season of whole days up both ways, and holds a gap to the index's own interval.
func TestSumsAgreeWithTheIndices(t *testing.T) {
	cal := garden.Calendar{Zone: time.UTC}
	first := cal.SeasonStart(2027)
	var days []Day
	wantDD, wantCold := 0.0, 0.0
	for d := first; d < first+150; d++ {
		low, high := int64(11_000-80*int64(d-first)), int64(18_000-90*int64(d-first))
		mean := (low + high) / 2
		days = append(days, Day{Date: d, N: 288, Min: low, Max: high, Sum: mean * 86_400, Covered: 86_400})
		wantDD += sine.Day(indices.DayRange{Min: float64(low) / 1000, Max: float64(high) / 1000})
	}
	acc := indices.ColdAccount{Bounds: indices.DefaultCold}
	for _, d := range days {
		acc.Close(indices.Day{Date: d.Date, Length: 86_400, Covered: 86_400, Sum: d.Sum}, cal.Start(d.Date), indices.SeasonMonths(cal, d.Date))
	}
	wantCold, _ = acc.Credit(indices.Day{})
	pts := seasonSums(cal, 2027, days, first+150, time.Time{})
	last := pts[len(pts)-1]
	if math.Abs(last.DegreeDays[0]-wantDD) > 0.1 || last.DegreeDays[0] != last.DegreeDays[1] || math.Abs(last.Cold[0]-wantCold) > 1e-9 || last.Cold[0] != last.Cold[1] {
		t.Errorf("%+v, want %.2f °C·d and %.3f credit days", last, wantDD, wantCold)
	}
	gone := append(append([]Day(nil), days[:100]...), days[103:]...)
	gap := seasonSums(cal, 2027, gone, first+150, time.Time{})
	g := gap[len(gap)-1]
	if !(g.Cold[0] < wantCold && wantCold <= g.Cold[1]+1e-9 && g.Cold[1]-g.Cold[0] <= 3.001) || !(g.DegreeDays[0] <= wantDD+0.1 && wantDD <= g.DegreeDays[1]+0.1) {
		t.Errorf("with three days missing %+v must hold %.2f and %.3f", g, wantDD, wantCold)
	}
}

// TestBothHemispheresDrawTheSameWinter moves everything by 182 days and looks at the same season days.
func TestBothHemispheresDrawTheSameWinter(t *testing.T) {
	paths := func(south bool) string {
		st := tansyBank()
		we := tansyWeather()
		if south {
			st.Garden.Site.Latitude = -43
			st.Cal = garden.Calendar{Zone: time.UTC, South: true}
			we.cal, we.until = st.Cal, tansyNow.AddDate(0, 0, 182)
			st.At, st.Day = we.until, st.Cal.DateOf(we.until)
			st.Season = st.Cal.Season(st.Day)
		} else {
			st.Cal = garden.Calendar{Zone: time.UTC}
			we.cal = st.Cal
		}
		we.shift = south
		p, _ := open(t, st, func(c *Config) { c.Curves = we; c.Now = func() time.Time { return we.until } })
		r := page(t, p, "/winter?with=2025")
		var ds []string
		for _, n := range r.all("path.k") {
			if d := attr(n, "d"); strings.HasPrefix(d, "M") && len(d) > 60 {
				ds = append(ds, attr(n, "class")+" "+d)
			}
		}
		return strings.Join(ds, "\n")
	}
	north, south := paths(false), paths(true)
	if north == "" || north != south {
		t.Errorf("the drawings differ: %d and %d bytes", len(north), len(south))
	}
}

func TestTheCSVIsWhatIsShown(t *testing.T) {
	p, _ := open(t, tansyBank(), withPast)
	r := page(t, p, "/winter.csv?pot=B1")
	rows, err := csv.NewReader(strings.NewReader(r.Body)).ReadAll()
	if err != nil || len(rows) != 116 { // 1 October to 26 January is 118 days, three of them unread, and the head
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	if got := strings.Join(rows[0], ","); got != "date,place,low_Cel,high_Cel,mean_Cel,covered_s,degree_days_low,degree_days_high,cold_low,cold_high,forcing_low,forcing_high,pot,water_percent" {
		t.Error(got)
	}
	r = page(t, p, "/winter.csv?from=2027-01-10&to=2027-01-11")
	rows, err = csv.NewReader(strings.NewReader(r.Body)).ReadAll()
	if err != nil || len(rows) != 577 || strings.Join(rows[0], ",") != "time,probe,value,unit" || rows[1][0] != "2027-01-10T00:00:00Z" || rows[1][3] != "Cel" {
		t.Errorf("%d rows, first %q, %v", len(rows), rows[1], err)
	}
}

func TestThePictureIsWholeInItself(t *testing.T) {
	p, _ := open(t, tansyBank(), withPast)
	r := page(t, p, "/winter.svg?with=2026&pot=B1")
	d := xml.NewDecoder(strings.NewReader(r.Body))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	if r.Header.Get("Content-Type") != "image/svg+xml" || strings.Contains(r.Body, "var(") || strings.Contains(r.Body, "href") || !strings.Contains(r.Body, ".k-low{") {
		t.Error("the picture leans on something outside itself")
	}
}

func TestWithoutAPastThePagesSaySo(t *testing.T) {
	p, _ := open(t, firstDay(), noPast)
	for _, path := range []string{"/winter?pot=B1", "/pot/B1", "/plant/P1", "/probe/B1-m", "/said", "/garden"} {
		if r := page(t, p, path); r.Code != 200 {
			t.Errorf("%s: %d", path, r.Code)
		}
	}
	page(t, p, "/winter").says("ul.winters", "No winter has been recorded yet.")
	p, _ = open(t, tansyBank(), nil)
	page(t, p, "/winter").says(".first", "no source of past readings")
}
