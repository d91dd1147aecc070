package daemon_test

import (
	"bytes"
	"flag"
	"fmt"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/alerts"
	"lathwatch/daemon"
	"lathwatch/dashboards/review"
	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/model"
)

var reviews = flag.String("reviews", "", "folder for the demo garden's reviews: go test ./daemon -run DemoWinter -args -reviews DIR")

// demoWinters walks the demo's garden with its keeper and gives the entries as a journal would hold them, a round every step.
func demoWinters(t testing.TB, every time.Duration, from, until time.Time) (*garden.Garden, []sensors.Entry) {
	return demoWintersOf(t, model.Demo, every, from, until)
}

func demoWintersOf(t testing.TB, text string, every time.Duration, from, until time.Time) (*garden.Garden, []sensors.Entry) {
	t.Helper()
	g, err := daemon.ParseGarden("the demo's garden", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	m := model.New(g, 7, from)
	keeper, door := m.Keeper(), drivers.NewDoor(g.Probes)
	walk := daemon.NewWalk()
	if err := walk.Fix(from, g); err != nil {
		t.Fatal(err)
	}
	var all []sensors.Entry
	take := func(e sensors.Entry) []alerts.Change {
		cs, err := walk.Take(e)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, e)
		return cs
	}
	for at := from; at.Before(until); at = at.Add(every) {
		for _, n := range keeper.Notes(at) {
			take(sensors.Entry{At: n.At, Note: &n})
		}
		r := door.Admit(m.Step(at))
		for _, c := range take(sensors.Entry{At: r.At, Round: &r}) {
			if c.Text != "" && c.To != "digest" {
				keeper.Hear(c.At, c.Kind, c.Pots)
			}
		}
	}
	return g, all
}

// The demo's garden through two winters, by two hours; with LATHWATCH_LONG=1 or -reviews by half hours.
func TestTheDemoWintersAreReviewed(t *testing.T) {
	from, until, every, want := time.Date(2026, 10, 5, 0, 0, 0, 0, time.UTC), time.Date(2028, 6, 10, 0, 0, 0, 0, time.UTC), 2*time.Hour, 2
	if *reviews != "" || os.Getenv("LATHWATCH_LONG") == "1" {
		every = 30 * time.Minute
	}
	g, all := demoWinters(t, every, from, until)
	ws, err := daemon.Reviewing{Garden: g, Entries: inOrder(all), Seasons: []int{2026, 2027, 2028}}.Run()
	if err != nil {
		t.Fatal(err)
	}
	if len(ws) != want || ws[0].Season != 2027 {
		t.Fatalf("%d winters", len(ws))
	}
	r := &review.Report{Winter: ws[want-1], Others: ws[:want-1]}
	againstEntries(t, ws[0], all)
	var page strings.Builder
	if err := r.HTML(&page); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{r.Winter.Title(), "Was frost foreseen", "Expected and come", "Water against need"} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if !strings.Contains(page.String(), "@media print") || !strings.Contains(page.String(), "Beside every winter kept") || strings.Contains(page.String(), "src=\"http") {
		t.Error("the page does not print by itself, or stands beside no other winter")
	}
	var picture bytes.Buffer
	if err := r.PNG(&picture); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&picture)
	if err != nil || img.Bounds().Dx() < 600 || img.Bounds().Dy() < 400 {
		t.Fatal("the picture", err)
	}
	colours := map[color.Color]bool{}
	for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y += 7 {
		for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x += 7 {
			colours[img.At(x, y)] = true
		}
	}
	if len(colours) < 6 {
		t.Errorf("the picture has %d colours: nothing is drawn on it", len(colours))
	}
	if *reviews == "" {
		return
	}
	for name, write := range map[string]func(f *os.File) error{"winter.html": func(f *os.File) error { return r.HTML(f) }, "winter.png": func(f *os.File) error { return r.PNG(f) },
		"winter.svg": func(f *os.File) error { return r.SVG(f) }, "winter.csv": func(f *os.File) error { return r.CSV(f) }} {
		f, err := os.Create(filepath.Join(*reviews, name))
		if err == nil {
			err = write(f)
		}
		if err != nil {
			t.Fatal(err)
		}
		f.Close()
	}
}

func inOrder(all []sensors.Entry) sensors.Entries {
	return func(yield func(sensors.Entry, error) bool) {
		for _, e := range all {
			if !yield(e, nil) {
				return
			}
		}
	}
}

// againstEntries works some of the winter's figures out by hand from the readings and notes themselves.
func againstEntries(t *testing.T, w *review.Winter, all []sensors.Entry) {
	t.Helper()
	cal := w.Cal()
	lows := map[garden.Date]int64{}
	watered := map[string]int{}
	noses := map[string]garden.Date{}
	for _, e := range all {
		if n := e.Note; n != nil && cal.Season(cal.DateOf(n.At)) == w.Season && e.At.Before(cal.Start(w.Until+1)) {
			switch n.What {
			case sensors.Watered:
				watered[n.Subject]++
			case sensors.Nose:
				noses[n.Subject] = cal.DateOf(n.At)
			}
		}
		if e.Round == nil || cal.Season(cal.DateOf(e.At)) != w.Season {
			continue
		}
		for _, r := range e.Round.Readings {
			if r.Probe == "wall-air" && r.Quality == sensors.Valid {
				night, v := cal.Night(e.At), r.Whole()
				if low, ok := lows[night]; !ok || v < low {
					lows[night] = v
				}
			}
		}
	}
	frosts, lowest := 0, int64(0)
	for _, v := range lows {
		if v < 0 {
			frosts++
		}
		lowest = min(lowest, v)
	}
	for _, p := range w.Places {
		if p.ID == "wall" && (p.FrostNights != frosts || p.Lowest.V != lowest) {
			t.Errorf("%d frost nights and a low of %d, by hand %d and %d m°C", p.FrostNights, p.Lowest.V, frosts, lowest)
		}
	}
	for _, p := range w.Pots {
		if len(p.Waterings) != watered[p.ID] || p.Nose != noses[p.ID] {
			t.Errorf("%s: %d waterings and nose %v, by hand %d and %v", p.ID, len(p.Waterings), p.Nose, watered[p.ID], noses[p.ID])
		}
	}
	if frosts < 20 || len(noses) == 0 {
		t.Errorf("%d frosts, %d noses: too tame a winter to test with", frosts, len(noses))
	}
}

// The same winter half a year later on the other half of the earth is the same winter: its figures agree by the day of the plants' year.
// Zones without summer time are used, and what hangs on the hour of sunset is left out: 182 days are not quite half the sun's year.
func TestASouthernWinterIsTheNorthernOneShifted(t *testing.T) {
	north := strings.Replace(model.Demo, "Europe/Copenhagen", "UTC", 1)
	south := strings.Replace(north, "latitude = 55.4", "latitude = -55.4", 1)
	_, all := demoWintersOf(t, north, time.Hour, time.Date(2026, 10, 5, 0, 0, 0, 0, time.UTC), time.Date(2027, 5, 25, 0, 0, 0, 0, time.UTC))
	var shifted []sensors.Entry
	const half = 182 * 24 * time.Hour
	for _, e := range all {
		e.At = e.At.Add(half)
		if e.Round != nil {
			r := *e.Round
			r.At = e.At
			e.Round = &r
		} else {
			n := *e.Note
			n.At = e.At
			e.Note = &n
		}
		shifted = append(shifted, e)
	}
	seen := func(text string, all []sensors.Entry) []string {
		g, err := daemon.ParseGarden("garden.toml", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		ws, err := daemon.Reviewing{Garden: g, Entries: inOrder(all), Seasons: []int{2026, 2027, 2028}}.Run()
		if err != nil || len(ws) != 1 || ws[0].Season != 2027 {
			t.Fatal(err, len(ws))
		}
		cal := ws[0].Cal()
		day := func(d garden.Date) int {
			if d == 0 {
				return -1
			}
			return cal.SeasonDay(d)
		}
		var out []string
		for _, p := range ws[0].Places {
			out = append(out, fmt.Sprint(p.ID, p.FrostNights, day(p.FirstFrost), day(p.LastFrost), day(p.Lowest.At), p.Lowest.V, day(p.WarmSpell), p.WarmDays, p.DegreeDays, p.SparedNights, p.Warmer))
		}
		for _, p := range ws[0].Pots {
			out = append(out, fmt.Sprint(p.ID, day(p.ColdStart), day(p.EnoughOn), day(p.PlentyOn), p.Credit, p.FreezeThaw, p.FrozenDays, day(p.Coldest.At), p.Coldest.V, p.DryDays, p.DryGrowth, p.WetDays,
				len(p.Waterings), day(p.Nose), day(p.Flower), p.Forcing))
		}
		return out
	}
	if d := cmp.Diff(seen(north, all), seen(south, shifted)); d != "" {
		t.Error(d)
	}
}
