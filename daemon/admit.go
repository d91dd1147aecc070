package daemon

import (
	"slices"

	"lathwatch/sensors"
	"lathwatch/sensors/drivers"
	"lathwatch/sensors/garden"
)

// Admit holds recorded rounds against the same door live ones pass: quality is given once, before anything is folded.
func Admit(g *garden.Garden, entries sensors.Entries) sensors.Entries {
	door := drivers.NewDoor(g.Probes)
	return func(yield func(sensors.Entry, error) bool) {
		for e, err := range entries {
			if e.Round != nil {
				r := door.Admit(*e.Round)
				e.Round = &r
			}
			if !yield(e, err) {
				return
			}
		}
	}
}

// AdmitLate holds readings that came after their time against the same door. What cannot be true is left out, as it is left out of a
// round.
func AdmitLate(g *garden.Garden, l sensors.Late) sensors.Late {
	door := drivers.NewDoor(g.Probes)
	rs := slices.Clone(l.Readings)
	slices.SortStableFunc(rs, func(a, b sensors.LateReading) int { return a.At.Compare(b.At) })
	l.Readings = make([]sensors.LateReading, 0, len(rs))
	for len(rs) > 0 {
		n := 1
		for n < len(rs) && rs[n].At.Equal(rs[0].At) {
			n++
		}
		r := sensors.Round{At: rs[0].At}
		for _, late := range rs[:n] {
			r.Readings = append(r.Readings, late.Reading)
		}
		for _, admitted := range door.Admit(r).Readings {
			l.Readings = append(l.Readings, sensors.LateReading{At: r.At, Reading: admitted})
		}
		rs = rs[n:]
	}
	return l
}
