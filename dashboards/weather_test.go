package dashboards

import (
	"context"
	"fmt"
	"iter"
	"math"
	"strings"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// weather is invented air since September 2016 at both places, with three days missing in December 2026.
type weather struct {
	cal     garden.Calendar
	until   time.Time
	asked   int  // days handed out
	minutes int  // readings handed out
	shift   bool // the southern mirror: every day 182 days later
}

var weatherBegins = garden.Date(17_045) // 1 September 2016

// noise is a repeatable number in [-1, 1].
func noise(n int64) float64 {
	x := uint64(n)*0x9E3779B97F4A7C15 + 0x1234567
	x ^= x >> 31
	x *= 0xBF58476D1CE4E5B9
	x ^= x >> 29
	return float64(x%20001)/10000 - 1
}

// day gives a day's mean and half swing in °C.
func (we *weather) day(probe sensors.ProbeID, d garden.Date) (mean, half float64) {
	if we.shift {
		d -= 182
	}
	north := d
	season := 9 - 7.5*math.Cos(2*math.Pi*float64(int(north)-20)/365.25)
	slow := 3 * (noise(int64(d)/9)*(1-float64(d%9)/9) + noise(int64(d)/9+1)*float64(d%9)/9)
	mean = season + slow + 1.2*noise(int64(d)*7+1)
	half = 2.5 + noise(int64(d)*13)
	if strings.HasPrefix(string(probe), "wall") {
		mean, half = mean-0.8, half+0.4
	}
	return mean, half
}

func (we *weather) Days(_ context.Context, probe sensors.ProbeID, from, until garden.Date) ([]Day, error) {
	var out []Day
	last := we.cal.DateOf(we.until)
	begin := weatherBegins
	if we.shift {
		begin += 182
	}
	for d := max(from, begin); d < min(until, last+1); d++ {
		if we.gone(d) {
			continue
		}
		mean, half := we.day(probe, d)
		day := Day{Date: d, N: 288, Min: int64(1000 * (mean - half)), Max: int64(1000 * (mean + half)), Covered: int64(we.cal.Length(d) / time.Second)}
		if d == last {
			day.N, day.Covered = 170, int64(we.until.Sub(we.cal.Start(d))/time.Second)
		}
		day.Sum = int64(1000*mean) * day.Covered
		out = append(out, day)
		we.asked++
	}
	return out, nil
}

// gone are three days nobody read.
func (we *weather) gone(d garden.Date) bool {
	if we.shift {
		d -= 182
	}
	return d >= 20_797 && d < 20_800
}

func (we *weather) Readings(_ context.Context, probe sensors.ProbeID, from, until time.Time) iter.Seq2[Reading, error] {
	return func(yield func(Reading, error) bool) {
		begin := we.cal.Start(weatherBegins)
		for t := from.Truncate(5 * time.Minute); t.Before(until) && t.Before(we.until); t = t.Add(5 * time.Minute) {
			d := we.cal.DateOf(t)
			if t.Before(from) || t.Before(begin) || we.gone(d) {
				continue
			}
			mean, half := we.day(probe, d)
			hour := t.Sub(we.cal.Start(d)).Hours()
			we.minutes++
			if !yield(Reading{t, int64(1000 * (mean - half*math.Cos(2*math.Pi*(hour-4)/24)))}, nil) {
				return
			}
		}
	}
}

func tansyWeather() *weather {
	return &weather{cal: garden.Calendar{Zone: tansyZone}, until: tansyNow}
}

// withPast gives pages a past: weather, notes and messages.
func withPast(c *Config) {
	c.Curves = tansyWeather()
	h := c.Standings.(*house)
	for i, n := range []sensors.Note{
		{At: tansyNow.AddDate(0, 0, -75), Subject: "shelter", What: sensors.LeafDown},
		{At: tansyNow.AddDate(0, 0, -48), Subject: "B1", What: sensors.Watered, Detail: "150 mL"},
		{At: tansyNow.AddDate(0, 0, -30), Subject: "B1", What: sensors.Feel, Detail: "right"},
		{At: tansyNow.AddDate(0, 0, -20), Subject: "B1", What: sensors.Watered, Detail: "150 mL"},
		{At: tansyNow.Add(-3 * time.Hour), Subject: "W9", What: sensors.Opening},
		{At: tansyNow.AddDate(-1, 2, 0), Subject: "P1", What: sensors.Nose},
		{At: tansyNow.AddDate(-1, 2, 20), Subject: "P1", What: sensors.Flower},
		{At: tansyNow.AddDate(-1, 8, 0), Subject: "P1", What: sensors.Shoots, Detail: "3"},
		{At: tansyNow.AddDate(0, -3, 0), Subject: "P1", What: sensors.Shoots, Detail: "6"},
	} {
		n.ID, n.Made = fmt.Sprintf("past%d", i), n.At
		h.notes = append(h.notes, n)
	}
	c.Messages = h
}

func (h *house) Changes(_ context.Context, before time.Time, n int) ([]alerts.Change, error) {
	var out []alerts.Change
	for i := range 60 {
		c := alerts.Change{Key: fmt.Sprint("c", i), At: tansyNow.Add(-time.Duration(i*29) * time.Hour), Kind: "root-cold", Rank: alerts.Week, State: alerts.Raised, Subject: "B2", Place: "shelter", Pots: []string{"B2"},
			Text: "The roots of B2 fell under −3 °C. Nothing to do but note it: leave the pot where it is until it thaws"}
		if i%3 == 1 {
			c.State, c.Text = alerts.Cleared, ""
		}
		if i%3 == 2 {
			c.Kind, c.Subject, c.Pots, c.Rank, c.Text = "frost-tonight", "wall", []string{"W9"}, alerts.Tonight, "W9 is opening and the wall may fall to −2 °C tonight. Put it under the shelter before dark"
		}
		if c.At.Before(before) && len(out) < n {
			out = append(out, c)
		}
	}
	return out, nil
}
