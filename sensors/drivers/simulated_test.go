package drivers

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// The verb "model" says what the simulated garden's next round holds, one line a probe: "D7-t 4.125 °C" or "D7-t silent: why".
func init() {
	addVerb(verb{name: "model", act: func(t *testing.T, w *world, _ []string, body string) {
		w.env.Simulated = func(at time.Time) sensors.Round {
			if at.IsZero() || at.Second() != 0 {
				t.Errorf("asked for a round at %v, not at a whole minute", at)
			}
			r := sensors.Round{At: at}
			for _, line := range lines(body) {
				id, rest, _ := strings.Cut(line, " ")
				kind, why, bad := strings.Cut(rest, ": ")
				n, u, err := units.Parse(rest)
				switch {
				case bad && kind == fmt.Sprint(sensors.Silent):
					r.Faults = append(r.Faults, sensors.Fault{Probe: sensors.ProbeID(id), Kind: sensors.Silent, Why: why})
				case err == nil:
					r.Readings = append(r.Readings, sensors.Reading{Probe: sensors.ProbeID(id), Raw: n, Step: units.Whole(u)})
				default:
					t.Fatalf("model line %q: %v", line, err)
				}
			}
			return r
		}
	}})
}
