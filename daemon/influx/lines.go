package influx

import (
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/write"
	protocol "github.com/influxdata/line-protocol"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// Measurements name what is measured and its printed unit; every field is a float, so that no two values of one field can differ in
// type.
var measurements = map[units.Unit]string{
	units.Temperature: "temperature", units.Humidity: "humidity", units.Moisture: "moisture", units.Voltage: "voltage",
	units.Pressure: "pressure", units.Light: "light", units.Length: "depth", units.Speed: "speed", units.Count: "counts",
	units.Conductivity: "conductivity", units.Mass: "mass", units.Charge: "charge", units.Ratio: "ratio",
}

// UnitOf is the unit a measurement's value is printed in.
func UnitOf(measurement string) (units.Unit, bool) {
	for u := units.Temperature; u.Known(); u++ {
		if measurements[u] == measurement {
			return u, true
		}
	}
	return units.None, false
}

// Lines writes a round in line protocol, a line a reading, times in milliseconds: `temperature,node=N,probe=P value=4.125 T`. The value
// is in the unit a person reads (°C, %, V ...); a suspect reading has suspect=1 beside it, a fault is `fault,node=N,probe=P kind=K T`.
func Lines(node string, r *sensors.Round) []string {
	lines := make([]string, 0, len(r.Readings)+len(r.Faults))
	add := func(measurement string, probe sensors.ProbeID, fields map[string]any) {
		p := write.NewPoint(measurement, map[string]string{"node": node, "probe": string(probe)}, fields, r.At)
		lines = append(lines, encode(p))
	}
	for i := range r.Readings {
		rd := &r.Readings[i]
		fields := map[string]any{"value": value(rd)}
		if rd.Quality == sensors.Suspect {
			fields["suspect"] = 1.0
		}
		add(measurements[rd.Unit()], rd.Probe, fields)
	}
	for _, f := range r.Faults {
		add("fault", f.Probe, map[string]any{"kind": float64(f.Kind)})
	}
	return lines
}

// value is the reading in its printed unit with all its digits: one division, so that its shortest text is the decimal it stands for.
func value(r *sensors.Reading) float64 {
	num, den := int64(r.Step.Num), int64(r.Step.Den)
	if den == 0 {
		num, den = 1, 1
	}
	return float64(r.Raw) * float64(num) / (float64(den) * math.Pow10(r.Unit().Digits()))
}

func encode(p *write.Point) string {
	var b strings.Builder
	e := protocol.NewEncoder(&b)
	e.SetFieldTypeSupport(protocol.UintSupport)
	e.FailOnFieldErr(true)
	e.SetPrecision(time.Millisecond)
	if _, err := e.Encode(p); err != nil {
		// Whole numbers of known units always encode; what does not is shown to the server, whose answer is kept.
		return p.Name() + " error=" + strconv.Quote(err.Error())
	}
	return strings.TrimSuffix(b.String(), "\n")
}
