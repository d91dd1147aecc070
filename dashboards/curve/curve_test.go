package curve

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lathwatch/sensors/garden"
)

// xy is a point of a drawn path in its units; start begins a line.
type xy struct {
	x, y  int64
	start bool
}

// read is a path reader of this test's own: it follows the SVG 2 rules for M, l and Z only (W3C, SVG 2, 9.3 "Path data").
func read(t interface{ Fatalf(string, ...any) }, d string) []xy {
	var out []xy
	cmd := byte(0)
	var nums []int64
	for i := 0; i < len(d); {
		switch c := d[i]; {
		case c == 'M' || c == 'l' || c == 'Z':
			cmd, nums = c, nums[:0]
			i++
		case c == ' ':
			i++
		default:
			j := i + 1
			for j < len(d) && d[j] >= '0' && d[j] <= '9' {
				j++
			}
			n, err := strconv.ParseInt(d[i:j], 10, 64)
			if err != nil {
				t.Fatalf("reading %q at %d: %v", d, i, err)
			}
			if nums = append(nums, n); len(nums) == 2 {
				p := xy{nums[0], nums[1], cmd == 'M'}
				if cmd == 'l' {
					last := out[len(out)-1]
					p.x, p.y = p.x+last.x, p.y+last.y
				}
				out, nums = append(out, p), nums[:0]
			}
			i = j
		}
	}
	return out
}

// TestTheDaysTrueLowIsAlwaysDrawn takes any readings, any span and any number of columns: in the columns a day covers the line
// goes down to the day's lowest reading, to the rounding of the drawing; and nothing is drawn that nobody read.
func TestTheDaysTrueLowIsAlwaysDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		days := rapid.IntRange(1, 400).Draw(t, "days")
		w := Window{From: 1_790_000_000, Low: -30_000, High: 45_000, Cols: rapid.IntRange(1, 1500).Draw(t, "columns"), Gap: rapid.SampledFrom([]int64{0, 3600, 20_000}).Draw(t, "gap")}
		w.Until = w.From + int64(days)*secondsADay
		var points []Point
		at := w.From
		for at < w.Until && len(points) < 3000 {
			points = append(points, Point{at, rapid.Int64Range(-25_000, 40_000).Draw(t, "reading")})
			at += rapid.SampledFrom([]int64{60, 300, 3600, 7200, secondsADay + 7}).Draw(t, "step")
		}
		drawn := read(t, Line(slices.Values(points), w))
		lows := map[int64]Point{}
		has := map[int64]bool{}
		for _, p := range points {
			has[w.Y(p.V)] = true
			d := (p.At - w.From) / secondsADay
			if low, ok := lows[d]; !ok || p.V < low.V {
				lows[d] = p
			}
		}
		for d, low := range lows {
			col, deepest := w.Column(low.At), int64(math.MinInt64)
			for _, p := range drawn {
				if p.x/colUnits == col {
					deepest = max(deepest, p.y)
				}
			}
			if deepest < w.Y(low.V) {
				t.Fatalf("day %d fell to %d, which lies at %d; the line of its column goes down only to %d", d, low.V, w.Y(low.V), deepest)
			}
		}
		for i, p := range drawn {
			if i > 0 && !p.start && p.x < drawn[i-1].x {
				t.Fatalf("the line goes back in time at %d", i)
			}
			if !has[p.y] {
				t.Fatalf("%d was never read", p.y)
			}
		}
	})
}

func TestLowestAndHighestStandInTheOrderTheyHappened(t *testing.T) {
	w := Window{From: 0, Until: 100, Low: 0, High: 2000, Cols: 1}
	for _, c := range []struct {
		name string
		in   []Point
		want []int64 // places down
	}{
		{"low first", []Point{{0, 500}, {10, 100}, {20, 900}, {30, 500}}, []int64{1900, 1100}},
		{"high first", []Point{{0, 500}, {10, 900}, {20, 100}, {30, 500}}, []int64{1100, 1900}},
		{"one reading is a dot", []Point{{50, 700}}, []int64{1300, 1300}},
		{"nothing", nil, nil},
	} {
		var got []int64
		for _, p := range read(t, Line(slices.Values(c.in), w)) {
			got = append(got, p.y)
		}
		if !cmp.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestASilenceBreaksTheLine(t *testing.T) {
	w := Window{From: 0, Until: 10_000, Low: 0, High: 100, Cols: 100, Gap: 600}
	starts := 0
	for _, p := range read(t, Line(slices.Values([]Point{{0, 1}, {300, 2}, {600, 3}, {5000, 4}, {5300, 5}}), w)) {
		if p.start {
			starts++
		}
	}
	if starts != 2 {
		t.Errorf("%d lines, want 2: nothing was read between 600 and 5000", starts)
	}
	area, _, _ := Ribbon([]Band{{0, 1, 2}, {300, 1, 3}, {5000, 2, 4}}, w)
	if n := strings.Count(area, "Z"); n != 2 {
		t.Errorf("%d areas, want 2", n)
	}
}

func TestTheRibbonKeepsTheLowestOfEveryDay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 3650).Draw(t, "days")
		w := Window{Until: int64(n) * secondsADay, Low: -30_000, High: 45_000, Cols: rapid.IntRange(1, 800).Draw(t, "columns")}
		var bands []Band
		for d := range n {
			low := int64(-20_000 + d*7919%35_000)
			bands = append(bands, Band{int64(d)*secondsADay + secondsADay/2, low, low + 5000})
		}
		_, low, _ := Ribbon(bands, w)
		deepest := map[int64]int64{}
		for _, p := range read(t, low) {
			deepest[p.x/colUnits] = max(deepest[p.x/colUnits], p.y)
		}
		for _, b := range bands {
			if deepest[w.Column(b.At)] < w.Y(b.Low) {
				t.Fatalf("a low of %d is not reached", b.Low)
			}
		}
	})
}

func TestSpellsAreRunsOfDays(t *testing.T) {
	day := func(d garden.Date, low, mean int64) DayAir { return DayAir{d, low, low + 6000, mean} }
	got := Spells([]DayAir{day(1, -100, 3000), day(2, -2000, 1000), day(3, 500, 4000), day(5, -1, 4000), day(6, 100, 8000), day(7, 0, 9000), day(8, 10, 8500), day(9, 0, 7999), day(10, 5000, 9000)})
	want := []Spell{{Freezing, 1, 2, -2000}, {Freezing, 5, 5, -1}, {Warm, 6, 8, 9000}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestSpellLabelsKeepApartAndTheDeepestStays(t *testing.T) {
	var spells []Spell
	for d := range 40 {
		spells = append(spells, Spell{Freezing, garden.Date(4 * d), garden.Date(4*d + 1), int64(-1000 - d*37%19*100)})
	}
	got := Labelled(spells, Freezing, 20)
	deepest := slices.MinFunc(spells, func(a, b Spell) int { return int(a.Extreme - b.Extreme) })
	if !slices.Contains(got, deepest) {
		t.Errorf("the deepest spell %v has no label", deepest)
	}
	for i := 1; i < len(got); i++ {
		if got[i].First-got[i-1].First < 19 {
			t.Errorf("labels at %v and %v collide", got[i-1].First, got[i].First)
		}
	}
}

// TestEveryKindHasALookOnPageInPrintAndInThePicture: a kind without a rule would vanish without a word.
func TestEveryKindHasALookOnPageInPrintAndInThePicture(t *testing.T) {
	screen, print, _ := strings.Cut(PageStyle(), "@media print{")
	seen := map[string]Kind{}
	for k := range numKinds {
		l := looks[k]
		if l.name == "" || (l.width == 0) == (l.fill == 0) {
			t.Fatalf("kind %d has no look", k)
		}
		for where, css := range map[string]string{"page": screen, "print": print, "picture": pictureStyle()} {
			if strings.Count(css, "."+k.Class()+"{") != 1 {
				t.Errorf("%s has no one rule in %s", k.Class(), where)
			}
		}
		shape := fmt.Sprint(l.width, l.dash, l.fill)
		if other, ok := seen[shape]; ok && l.width > 0 && !sums[k] {
			t.Errorf("%s and %s differ by colour alone", looks[other].name, l.name)
		}
		seen[shape] = k
	}
	if strings.Contains(print, "var(") || strings.Contains(pictureStyle(), "var(") {
		t.Error("print and picture must not follow the screen's colours")
	}
}

// sums stand alone in their charts.
var sums = map[Kind]bool{SumLine: true, ColdLine: true, ForceLine: true, WetLine: true, WithLine: true}

func TestGridsFallOnCivilDays(t *testing.T) {
	zone, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	cal := garden.Calendar{Zone: zone}
	day := func(s string) int64 {
		d, _ := time.Parse(time.DateOnly, s)
		return cal.Start(garden.Date(d.Unix() / secondsADay)).Unix()
	}
	for _, c := range []struct {
		from, until string
		want        string
	}{
		{"2026-09-01", "2027-06-01", "Oct Nov Dec 2027 Feb Mar Apr May"},
		{"2027-03-26", "2027-04-02", "28 Mar 30 Mar 1 Apr"},
		{"2027-01-01", "2027-02-10", "11 Jan 25 Jan 8 Feb"},
		{"2017-09-01", "2027-06-01", "2018 2019 2020 2021 2022 2023 2024 2025 2026 2027"},
		{"2027-03-28", "2027-03-29", "03:00 06:00 09:00 12:00 15:00 18:00 21:00"},
	} {
		var labels []string
		for _, tk := range timeTicks(Window{From: day(c.from), Until: day(c.until)}, cal) {
			if l := time.Unix(tk.at, 0).In(zone); l.Minute() != 0 || l.Hour() != 0 && !strings.HasSuffix(tk.label, ":00") {
				t.Errorf("a line of the grid at %v", l)
			}
			if tk.label != "" {
				labels = append(labels, tk.label)
			}
		}
		if got := strings.Join(labels, " "); got != c.want {
			t.Errorf("%s to %s: %s, want %s", c.from, c.until, got, c.want)
		}
	}
}

func TestValueAxesAreRoundInThePrintedUnit(t *testing.T) {
	for _, c := range []struct {
		s          Scale
		low, high  int64
		foot, head float64
	}{
		{Scale{"°C", 1000, 0, 1}, -8300, 14_200, -10, 15},
		{Scale{"°F", 1000 / 1.8, 32, 1}, -8300, 14_200, 10, 60},
		{Scale{"%", 10, 0, 0}, 160, 520, 10, 60},
		{Scale{"d", 1000, 0, 0}, 0, 0, 0, 0.5},
	} {
		foot, head, lines := c.s.Fit(c.low, c.high)
		if math.Abs(c.s.Of(foot)-c.foot) > 1e-3 || math.Abs(c.s.Of(head)-c.head) > 1e-3 {
			t.Errorf("%v: %g to %g, want %g to %g", c.s, c.s.Of(foot), c.s.Of(head), c.foot, c.head)
		}
		if foot > c.low || head < c.high || len(lines) < 2 || len(lines) > 7 {
			t.Errorf("%v: %d to %d with %d lines", c.s, foot, head, len(lines))
		}
	}
}
