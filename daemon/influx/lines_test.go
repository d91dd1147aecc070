package influx

import (
	"strings"
	"testing"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/write"

	"lathwatch/sensors"
	"lathwatch/sensors/checks"
	"lathwatch/sensors/units"
)

func TestNamesAreEscapedAsTheProtocolWants(t *testing.T) {
	p := write.NewPoint("pot water,a", map[string]string{"pot no": "N wall=3,left"},
		map[string]any{"note": `say "dry" \ ok`, "vwc": 0.213, "n": 7}, time.UnixMilli(5))
	checks.Is(t, "pr-influx", strings.TrimSuffix(encode(p), " 5"))
}

func TestARoundIsALineAReading(t *testing.T) {
	r := sensors.Round{At: t0, Readings: []sensors.Reading{{Probe: "d7-t", Raw: 66, Step: sixteenth},
		{Probe: "d7-m", Raw: 512, Step: units.Whole(units.Moisture), Quality: sensors.Suspect}},
		Faults: []sensors.Fault{{Probe: "air", Kind: sensors.Garbled}}}
	want := []string{"temperature,node=lane-end,probe=d7-t value=4.125 1793491200000",
		"moisture,node=lane-end,probe=d7-m suspect=1,value=51.2 1793491200000", "fault,node=lane-end,probe=air kind=2 1793491200000"}
	for i, l := range Lines("lane-end", &r) {
		if l != want[i] {
			t.Errorf("%q, want %q", l, want[i])
		}
	}
	for m := range measurements {
		if u, ok := UnitOf(measurements[m]); !ok || u != m {
			t.Errorf("%v is measurement %q of %v", m, measurements[m], u)
		}
	}
}
