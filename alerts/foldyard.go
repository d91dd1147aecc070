package alerts

import (
	"time"

	"lathwatch/sensors/indices"
	"lathwatch/sensors/units"
)

// Yardsticks are the orchard's and the laboratory's ways of counting a winter, from the air on the full hours of the season.
// They are shown for comparison, and for growers of fruit trees in pots; the rest of these plants is counted by ColdAccount.
type Yardsticks struct {
	Chill     indices.Chill
	Portions  indices.DynamicModel
	GDH       float64 // growing-degree-hours, asymmetric curve
	GDHLinear float64 // growing-degree-hours, linear from 4.5 to 25 °C
}

// hour takes the air at a full hour, m°C. Hundredths of a degree decide at class edges, so nothing finer is looked at.
func (y *Yardsticks) hour(v int64) {
	t := units.MilliCelsius((v + sign(v)*5) / 10 * 10)
	y.Chill.Hour(t)
	y.Portions.Hour(t.Celsius())
	y.GDH += indices.GDH(t.Celsius())
	y.GDHLinear += indices.GDHLinear(t.Celsius())
}

func sign(v int64) int64 {
	if v < 0 {
		return -1
	}
	return 1
}

// first takes a place's very first reading when it falls on a full hour.
func (y *Yardsticks) first(at time.Time, v int64) {
	if at.Equal(at.Truncate(time.Hour)) {
		y.hour(v)
	}
}

// segment takes the full hours after a segment's beginning up to its end. A gap has none: nothing is carried across it.
func (y *Yardsticks) segment(s indices.Segment) {
	if s.Gap {
		return
	}
	for h := s.From.Truncate(time.Hour).Add(time.Hour); !h.After(s.To); h = h.Add(time.Hour) {
		before, _ := s.Cut(h)
		y.hour(before.V1)
	}
}
