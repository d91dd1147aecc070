package drivers

import (
	"context"
	"errors"
	"slices"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// Probes of the demo's simulated garden: what they say is the model's. All of them are one chip, so that one poll makes one
// round of the model.
func init() {
	add(Driver{
		Name: "simulated",
		Doc:  "A probe of the demo's invented garden; there is no such thing on a real board.",
		Example: `[[probe]]
id = "D7-t"
measures = "pot-temperature"
pot = "D7"
[probe.simulated]
`,
		Parse: parseSimulated,
	})
}

func parseSimulated(p garden.Probe) (Wish, error) {
	var of struct{}
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	return Wish{Probe: p.ID, Bus: "simulated", Chip: "simulated garden", Channel: string(p.ID), Every: p.Every, Open: openSimulated}, nil
}

func openSimulated(env Env, wishes []Wish) (Source, error) {
	if env.Simulated == nil {
		return nil, errors.New("opening the simulated garden: only the demo has one; give the probe the driver of its sensor")
	}
	s := simulated{round: env.Simulated}
	for _, w := range wishes {
		s.probes = append(s.probes, w.Probe)
	}
	return s, nil
}

type simulated struct {
	round  func(time.Time) sensors.Round
	probes []sensors.ProbeID
}

// Poll makes the round of the present minute and hands out what is of its probes.
func (s simulated) Poll(context.Context) ([]sensors.Reading, []sensors.Fault) {
	r := s.round(time.Now().Truncate(time.Minute))
	return slices.DeleteFunc(r.Readings, func(x sensors.Reading) bool { return !slices.Contains(s.probes, x.Probe) }),
		slices.DeleteFunc(r.Faults, func(x sensors.Fault) bool { return !slices.Contains(s.probes, x.Probe) })
}

// Close has nothing to let go.
func (simulated) Close() error { return nil }
