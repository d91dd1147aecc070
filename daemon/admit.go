package daemon

import (
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
