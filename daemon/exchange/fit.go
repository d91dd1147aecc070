package exchange

import (
	"fmt"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/tape"
	"lathwatch/sensors/units"
)

// Fit takes out the rows a garden cannot use: those of a probe it does not have or in a unit that probe does not speak. A logger
// writes thousands of such rows alike, so each probe and unit is named once, at its first line, with how many there are.
func (r *Read) Fit(name string, g *garden.Garden) {
	type kind struct {
		probe sensors.ProbeID
		unit  units.Unit
	}
	first, many := map[kind]tape.Row{}, map[kind]int{}
	var kinds []kind
	of := func(row sensors.LateReading) kind { return kind{row.Probe, row.Unit()} }
	for i, row := range r.Rows {
		k := of(row)
		if many[k]++; many[k] == 1 {
			kinds = append(kinds, k)
		}
		if many[k] == 1 || r.Lines[i] < first[k].Line {
			first[k] = tape.Row{At: row.At, Probe: row.Probe, Raw: row.Raw, Step: row.Step, Line: r.Lines[i]}
		}
	}
	strange := map[kind]bool{}
	for _, k := range kinds {
		_, bad := tape.Fit(name, []tape.Row{first[k]}, g)
		for _, b := range bad {
			if n := many[k]; n > 1 {
				b.Say += fmt.Sprintf("; %d rows of it are not used", n)
			}
			strange[k] = true
			r.Bad = append(r.Bad, b)
		}
	}
	n := 0
	for i, row := range r.Rows {
		if !strange[of(row)] {
			r.Rows[n], r.Lines[n] = row, r.Lines[i]
			n++
		}
	}
	r.Rows, r.Lines, r.Bad = r.Rows[:n], r.Lines[:n], sorted(r.Bad)
}
