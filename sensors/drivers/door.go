package drivers

import (
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// A Door holds readings against what can be true.
type Door struct{}

// NewDoor makes a door for the probes.
func NewDoor(probes []garden.Probe) *Door { return &Door{} }

// Admit judges a round.
func (d *Door) Admit(r sensors.Round) sensors.Round { return r }
