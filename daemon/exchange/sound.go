package exchange

import (
	"fmt"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// Sound reports what is wrong with a reading that came from outside other than through a file: an id, a unit, a step or a time that no
// reader of this package would have let pass.
func Sound(r sensors.LateReading) error {
	switch {
	case !garden.SafeID(string(r.Probe)):
		return fmt.Errorf("probe %.50q: write its id, letters, digits and hyphens only", r.Probe)
	case !r.Unit().Known():
		return fmt.Errorf("probe %s: its unit is not known", r.Probe)
	case !soundStep(r.Raw, r.Step.Num, r.Step.Den):
		return fmt.Errorf("probe %s: %d counts of %d/%d cannot be turned into whole units", r.Probe, r.Raw, r.Step.Num, r.Step.Den)
	case r.At.Year() < 1970 || r.At.Year() > 2200:
		return fmt.Errorf("probe %s: the year %d is not one of 1970 to 2200", r.Probe, r.At.Year())
	}
	return nil
}
