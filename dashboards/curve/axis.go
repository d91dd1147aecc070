package curve

import (
	"fmt"
	"time"

	"lathwatch/sensors/garden"
)

// A tick is a line of the grid with its label; an empty label is a line alone.
type tick struct {
	at    int64
	label string
	minor bool
}

const secondsADay = 86_400

// timeTicks cuts the window at civil edges: hours, days, Mondays, months or years, whichever leaves few enough labels.
func timeTicks(w Window, cal garden.Calendar) []tick {
	span := (w.Until - w.From) / secondsADay
	switch {
	case span <= 3:
		return hourTicks(w, cal, span)
	case span <= 12:
		return dayTicks(w, cal, 1, 2)
	case span <= 75:
		return dayTicks(w, cal, 7, 14)
	case span <= 430:
		return monthTicks(w, cal, 1, span > 300)
	}
	return monthTicks(w, cal, 12, false)
}

func hourTicks(w Window, cal garden.Calendar, span int64) []tick {
	step := 6
	if span < 1 {
		step = 3
	}
	var ts []tick
	for d := cal.DateOf(time.Unix(w.From, 0)); ; d++ {
		y, m, day := d.Civil()
		for h := 0; h < 24; h += step {
			t := time.Date(y, m, day, h, 0, 0, 0, cal.Zone).Unix()
			if t >= w.Until {
				return ts
			}
			if t <= w.From {
				continue
			}
			label := fmt.Sprintf("%02d:00", h)
			if h == 0 {
				label = dayLabel(d)
			}
			ts = append(ts, tick{t, label, h != 0})
		}
	}
}

// dayTicks marks every step days (Mondays for 7) and labels every label days.
func dayTicks(w Window, cal garden.Calendar, step, label garden.Date) []tick {
	var ts []tick
	for d := cal.DateOf(time.Unix(w.From, 0)); ; d++ {
		t := cal.Start(d).Unix()
		if t >= w.Until {
			return ts
		}
		if t <= w.From || (d+3)%step != 0 { // 1 January 1970 was a Thursday: day -3 a Monday
			continue
		}
		tk := tick{at: t, minor: true}
		if (d+3)%label == 0 {
			tk.label, tk.minor = dayLabel(d), false
		}
		ts = append(ts, tk)
	}
}

// monthTicks marks every step months; sparse labels every second one.
func monthTicks(w Window, cal garden.Calendar, step time.Month, sparse bool) []tick {
	var ts []tick
	y, m, _ := cal.DateOf(time.Unix(w.From, 0)).Civil()
	for ; ; m++ {
		if m > time.December {
			y, m = y+1, time.January
		}
		t := time.Date(y, m, 1, 0, 0, 0, 0, cal.Zone).Unix()
		if t >= w.Until {
			return ts
		}
		if t <= w.From || (m-1)%step != 0 {
			continue
		}
		label := m.String()[:3]
		if step == 12 || m == time.January {
			label = fmt.Sprint(y)
		}
		if sparse && m%2 == 0 {
			label = ""
		}
		ts = append(ts, tick{t, label, label == ""})
	}
}

func dayLabel(d garden.Date) string {
	_, m, n := d.Civil()
	return fmt.Sprintf("%d %s", n, m.String()[:3])
}

// A Scale is how values are written: Div whole-number units make one printed unit, with Digits decimals.
type Scale struct {
	Unit   string
	Div    float64
	Add    float64 // added after dividing (32 for °F, whose Div is 1000/1.8)
	Digits int
}

// Of is a value in the printed unit.
func (s Scale) Of(v int64) float64 { return float64(v)/s.Div + s.Add }

// steps of a value axis, in printed units.
var valueSteps = []float64{0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 5000}

// Fit widens a range of values to round ones, with at most five steps, and gives the lines of the grid.
func (s Scale) Fit(low, high int64) (foot, head int64, lines []int64) {
	if high <= low {
		high = low + 1
	}
	a, b := s.Of(low), s.Of(high)
	step := valueSteps[len(valueSteps)-1]
	for _, st := range valueSteps {
		if (b-a)/st <= 5 && (st >= 0.5 || s.Digits > 1) { // finer than a half only where finer is printed
			step = st
			break
		}
	}
	back := func(v float64) int64 { return int64(roundHalf((v - s.Add) * s.Div)) }
	first, last := floorTo(a, step), -floorTo(-b, step)
	for v := first; v <= last+step/2; v += step {
		lines = append(lines, back(v))
	}
	return back(first), back(last), lines
}

func floorTo(v, step float64) float64 {
	n := float64(int64(v / step))
	if n*step > v {
		n--
	}
	return n * step
}

func roundHalf(v float64) float64 {
	if v < 0 {
		return float64(int64(v - 0.5))
	}
	return float64(int64(v + 0.5))
}
