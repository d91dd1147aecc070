package dashboards

import (
	"fmt"

	"lathwatch/dashboards/curve"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// manyRows is the number of days from which tables go by weeks.
const manyRows = 40

// airSummary says a span of days in a sentence.
func airSummary(b *bench, days []Day) string {
	if len(days) == 0 {
		return "No air readings in this span."
	}
	frost, lowest, highest := 0, &days[0], &days[0]
	for i := range days {
		d := &days[i]
		if d.Min < 0 {
			frost++
		}
		if d.Min < lowest.Min {
			lowest = d
		}
		if d.Max > highest.Max {
			highest = d
		}
	}
	return fmt.Sprintf("%s; lowest %s on %s, highest %s on %s.", plural(frost, "frost day"), b.deg(units.MilliCelsius(lowest.Min)), b.plainDate(lowest.Date),
		b.deg(units.MilliCelsius(highest.Max)), b.plainDate(highest.Date))
}

func plural(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

func (ws *winterSheet) airTable(days []Day) (head []string, rows [][]string) {
	first := "Day"
	step := garden.Date(1)
	if len(days) > manyRows {
		first, step = "Week from", 7
	}
	head = []string{first, "Lowest " + ws.unit(), "Highest " + ws.unit(), "Mean " + ws.unit(), "Frost days"}
	for i := 0; i < len(days); {
		start := days[i].Date
		if step == 7 {
			start -= (start + 3) % 7 // weeks begin on Monday
		}
		j := i
		low, high, sum, covered, frost := days[i].Min, days[i].Max, int64(0), int64(0), 0
		for ; j < len(days) && days[j].Date < start+step; j++ {
			d := &days[j]
			low, high, sum, covered = min(low, d.Min), max(high, d.Max), sum+d.Sum, covered+d.Covered
			if d.Min < 0 {
				frost++
			}
		}
		mean := "–"
		if covered > 0 {
			mean = ws.plainDeg(sum / covered)
		}
		rows = append(rows, []string{ws.plainDate(start), ws.plainDeg(low), ws.plainDeg(high), mean, fmt.Sprint(frost)})
		i = j
	}
	return head, rows
}

// plainDeg is a temperature without its unit, for columns whose head names it.
func (s speech) plainDeg(m int64) string {
	return number(s.scale(units.MilliCelsius(m).Celsius()), 1)
}

// sumText writes an interval of a sum.
func sumText(v [2]float64, scale curve.Scale) string {
	low, high := number(v[0]*1000/scale.Div, scale.Digits), number(v[1]*1000/scale.Div, scale.Digits)
	if low == high {
		return low
	}
	return low + " to " + high
}

// sumTable writes a sum by weeks, or by days in a short span.
func (ws *winterSheet) sumTable(name string, pts, laid []sumPoint, of func(*sumPoint) [2]float64, scale curve.Scale) (head []string, rows [][]string) {
	head = []string{"Day", name + " (" + scale.Unit + ")"}
	with := map[garden.Date]*sumPoint{}
	if len(laid) > 0 {
		head = append(head, sentenceCase(ws.winterName(ws.q.With)))
		for i := range laid {
			with[laid[i].Date] = &laid[i]
		}
	}
	step := 1
	if len(pts) > manyRows {
		step = 7
	}
	for i := len(pts) - 1; i >= 0; i -= step {
		row := []string{ws.plainDate(pts[i].Date), sumText(of(&pts[i]), scale)}
		if len(laid) > 0 {
			other := "–"
			if p := with[pts[i].Date]; p != nil {
				other = sumText(of(p), scale)
			}
			row = append(row, other)
		}
		rows = append(rows, row)
	}
	for i, j := 0, len(rows)-1; i < j; i, j = i+1, j-1 {
		rows[i], rows[j] = rows[j], rows[i]
	}
	return head, rows
}

func sentenceCase(s string) string {
	t := sentence(s)
	return t[:len(t)-1]
}
