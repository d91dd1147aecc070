package drivers

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

var doorBegin = time.Date(2027, 1, 20, 12, 0, 0, 0, time.UTC)

func airProbe(id, place string) garden.Probe {
	return garden.Probe{ID: sensors.ProbeID(id), Measures: garden.AirTemperature, Place: place}
}

func potProbes(pot string) []garden.Probe {
	return []garden.Probe{{ID: sensors.ProbeID(pot + "-m"), Measures: garden.PotMoisture, Pot: pot}, {ID: sensors.ProbeID(pot + "-t"), Measures: garden.PotTemperature, Pot: pot}}
}

// A course is a probe's value at a number of minutes, in its unit; NaN: not read.
type course func(minute int) float64

// verdicts walks a door through some hours of rounds and tells each change of a probe's verdict: "00:10 suspect", "06:00 stuck".
func verdicts(probes []garden.Probe, every, minutes int, values map[string]course) map[string][]string {
	d := NewDoor(probes)
	got := map[string][]string{}
	state := map[string]string{}
	for m := 0; m <= minutes; m += every {
		r := sensors.Round{At: doorBegin.Add(time.Duration(m) * time.Minute)}
		for _, p := range probes {
			v := values[string(p.ID)](m)
			if math.IsNaN(v) {
				continue
			}
			r.Readings = append(r.Readings, valueOf(p, v))
		}
		slices.SortFunc(r.Readings, func(a, b sensors.Reading) int { return strings.Compare(string(a.Probe), string(b.Probe)) })
		out := d.Admit(r)
		tell := func(id sensors.ProbeID, s string) {
			if state[string(id)] != s {
				state[string(id)] = s
				got[string(id)] = append(got[string(id)], fmt.Sprintf("%02d:%02d %s", m/60, m%60, s))
			}
		}
		for _, r := range out.Readings {
			tell(r.Probe, r.Quality.String())
		}
		for _, f := range out.Faults {
			tell(f.Probe, f.Kind.String())
		}
	}
	return got
}

func valueOf(p garden.Probe, v float64) sensors.Reading {
	switch {
	case p.Measures == garden.PotMoisture && p.Unit == units.Voltage:
		return sensors.Reading{Probe: p.ID, Raw: int64(math.Round(v * 1e6)), Step: units.Whole(units.Voltage)}
	case p.Measures == garden.PotMoisture && p.Unit == units.Count:
		return sensors.Reading{Probe: p.ID, Raw: int64(math.Round(v)), Step: units.Whole(units.Count)}
	case p.Measures == garden.PotMoisture:
		return sensors.Reading{Probe: p.ID, Raw: int64(math.Round(v * 10)), Step: units.Whole(units.Moisture)}
	case p.Measures == garden.AirHumidity:
		return sensors.Reading{Probe: p.ID, Raw: int64(math.Round(v * 10)), Step: units.Whole(units.Humidity)}
	}
	return sensors.Reading{Probe: p.ID, Raw: int64(math.Round(v * 16)), Step: units.Step{Unit: units.Temperature, Num: 125, Den: 2}}
}

// day is a course of mean and swing with its lowest at 06:00 and a sixteenth of noise; noon is minute 0.
func day(mean, swing float64, seed uint64) course {
	return func(m int) float64 {
		noise := rand.New(rand.NewPCG(seed, uint64(m))).Float64() - 0.5
		return mean + swing*math.Cos(2*math.Pi*float64(m-180)/1440) + noise*0.125
	}
}

func still(v float64) course { return func(int) float64 { return v } }

func until(minute int, a, b course) course {
	return func(m int) float64 {
		if m < minute {
			return a(m)
		}
		return b(m)
	}
}

func TestTheDoor(t *testing.T) {
	two := []garden.Probe{airProbe("table", "table"), airProbe("wall", "wall")}
	pot := append(potProbes("D7"), airProbe("table", "table"))
	for _, tt := range []struct {
		name    string
		probes  []garden.Probe
		every   int
		minutes int
		values  map[string]course
		want    map[string][]string
	}{
		{"two live air thermometers for three days", two, 5, 4320, map[string]course{"table": day(4, 3, 1), "wall": day(3, 5, 2)},
			map[string][]string{"table": {"00:00 valid"}, "wall": {"00:00 valid"}}},
		{"an air thermometer that stands still while another moves", two, 5, 1440, map[string]course{"table": until(60, day(4, 3, 1), still(6.5)), "wall": day(3, 5, 2)},
			map[string][]string{"table": {"00:00 valid", "07:15 stuck"}, "wall": {"00:00 valid"}}},
		{"it is doubted after two hours of a cooling evening", two, 5, 1440, map[string]course{"table": until(300, day(4, 3, 1), still(6.25)), "wall": day(3, 5, 2)},
			map[string][]string{"table": {"00:00 valid", "07:50 suspect", "11:00 stuck"}, "wall": {"00:00 valid"}}},
		{"both stand still in dead calm fog", two, 5, 1440, map[string]course{"table": still(3.5), "wall": still(3.25)},
			map[string][]string{"table": {"00:00 valid"}, "wall": {"00:00 valid"}}},
		{"a pot stands at exactly 0 for three days in its latent heat", pot, 5, 4320, map[string]course{"D7-t": still(0), "D7-m": still(48), "table": day(-6, 4, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"a plateau a little off 0 by its probe's error", pot, 5, 4320, map[string]course{"D7-t": still(-0.5), "D7-m": still(48), "table": day(-6, 4, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"a pot thermometer stands still at 5 while the air swings", pot, 5, 1440, map[string]course{"D7-t": until(60, day(5, 0, 9), still(5)), "D7-m": still(48), "table": day(3, 5, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid", "12:55 stuck"}, "table": {"00:00 valid"}}},
		{"a humidity that stands still while its air cools", []garden.Probe{airProbe("t", "wall"), {ID: "h", Measures: garden.AirHumidity, Place: "wall"}}, 5, 1440,
			map[string]course{"t": day(6, 6, 1), "h": until(300, func(m int) float64 { return 60 + float64(m%7)/10 }, still(62))},
			map[string][]string{"t": {"00:00 valid"}, "h": {"00:00 valid", "07:20 suspect"}}},
		{"saturated air stands still all night", []garden.Probe{airProbe("t", "wall"), {ID: "h", Measures: garden.AirHumidity, Place: "wall"}}, 5, 1440,
			map[string]course{"t": day(6, 6, 1), "h": still(100)},
			map[string][]string{"t": {"00:00 valid"}, "h": {"00:00 valid"}}},
		{"a tape written by hand, a figure a day", pot, 10, 5760, map[string]course{"D7-t": func(m int) float64 { return 5 + float64(m/1440) }, "D7-m": still(48), "table": day(3, 5, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"a resting pot's water does not move for ten days", pot, 10, 14400, map[string]course{"D7-t": day(3, 1, 4), "D7-m": still(37), "table": day(3, 5, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"a pot cannot change over 6 degrees in ten minutes: one wild sample", pot, 10, 120, map[string]course{
			"D7-t": func(m int) float64 {
				if m == 60 {
					return 14
				}
				return day(3, 1, 4)(m)
			}, "D7-m": still(37), "table": day(3, 5, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid", "01:00 suspect", "01:10 valid"}, "table": {"00:00 valid"}}},
		{"warm water in a cold pot is believed at the next sample", pot, 10, 120, map[string]course{"D7-t": until(60, day(1, 0, 4), func(m int) float64 { return 11 - float64(m-60)/40 }), "D7-m": still(37), "table": day(3, 5, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid", "01:00 suspect", "01:10 valid"}, "table": {"00:00 valid"}}},
		{"a squall cools both air thermometers at once", two, 10, 120, map[string]course{
			"table": until(60, day(18, 0, 1), day(11, 0, 5)), "wall": until(60, day(19, 0, 2), day(10, 0, 6))},
			map[string][]string{"table": {"00:00 valid"}, "wall": {"00:00 valid"}}},
		{"zero kelvin, 85, -127 and 127.9 are never air", two[:1], 5, 60, map[string]course{"table": func(m int) float64 {
			if m > 0 && m <= 20 {
				return []float64{-273.15, 85, -127, 127.9375}[m/5-1]
			}
			return day(3, 1, 2)(m)
		}}, map[string][]string{"table": {"00:00 valid", "00:05 implausible", "00:25 valid"}}},
		{"the probe is pulled: its thermometer moves with it, so the fall of water stands", pot, 10, 120, map[string]course{
			"D7-m": until(60, still(64), still(0)), "D7-t": until(60, day(11, 0, 2), until(70, still(13.9), day(15.4, 0.5, 3))), "table": day(15.6, 1, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"water falls to nothing though the pot's thermometer did not stir", pot, 10, 3000, map[string]course{
			"D7-m": until(60, still(64), still(0)), "D7-t": day(11, 0, 2), "table": day(12, 2, 3)},
			map[string][]string{"D7-m": {"00:00 valid", "01:00 suspect"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"a re-seated probe is believed after a day", pot, 10, 3000, map[string]course{
			"D7-m": until(60, still(85), func(m int) float64 { return 30 + float64(m%3)/10 }), "D7-t": day(11, 0, 2), "table": day(12, 2, 3)},
			map[string][]string{"D7-m": {"00:00 valid", "01:00 suspect", "25:00 valid"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"a watering is believed at once", pot, 10, 600, map[string]course{
			"D7-m": until(60, still(35), func(m int) float64 { return 98 - float64(m-60)/60 }), "D7-t": day(11, 0, 2), "table": day(12, 2, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"a 1-wire bus at ground reads as a perfect 0 °C in every pot at once", append(potProbes("E1"), pot...), 5, 300, map[string]course{
			"D7-t": until(60, day(3, 1, 4), until(240, still(0), day(3, 1, 4))), "E1-t": until(60, day(2, 1, 7), until(240, still(0), day(2, 1, 7))), "D7-m": still(48), "E1-m": still(48),
			"table": until(60, day(4, 3, 3), until(240, still(0), day(4, 3, 3)))},
			map[string][]string{"D7-m": {"00:00 valid"}, "E1-m": {"00:00 valid"}, "D7-t": {"00:00 valid", "01:00 suspect", "04:00 valid"}, "E1-t": {"00:00 valid", "01:00 suspect", "04:00 valid"},
				"table": {"00:00 valid", "01:00 suspect", "04:00 valid"}}},
		{"a pot creeps to 0 °C and stays there", pot, 10, 3000, map[string]course{"D7-t": func(m int) float64 { return max(3-float64(m)/200, 0) }, "D7-m": still(48), "table": day(-4, 3, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"a pot read by the hour comes to 0 °C", pot, 60, 3000, map[string]course{"D7-t": func(m int) float64 { return max(3-float64(m)/50, 0) }, "D7-m": still(48), "table": day(-4, 3, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"two moisture probes answer in turn for a while", pot, 10, 900, map[string]course{
			"D7-m": until(60, still(35), until(300, func(m int) float64 { return 35 + 30*float64(m/10%2) }, still(35))), "D7-t": day(11, 0, 2), "table": day(12, 2, 3)},
			map[string][]string{"D7-m": {"00:00 valid", "01:50 suspect", "07:40 valid"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"the same in volts at one minute", []garden.Probe{{ID: "D7-m", Measures: garden.PotMoisture, Pot: "D7", Unit: units.Voltage,
			Marks: []garden.Mark{{Raw: 1_200_000, Which: garden.DrainedFull}, {Raw: 2_400_000, Which: garden.DriestAllowed, Share: 200}}}}, 1, 120, map[string]course{
			"D7-m": until(60, still(2.2), func(m int) float64 { return 2.2 - 0.1*float64(m%2) })},
			map[string][]string{"D7-m": {"00:00 valid", "01:05 suspect"}}},
		{"watered three times in an afternoon it is believed", pot, 10, 900, map[string]course{
			"D7-m": func(m int) float64 { return []float64{35, 70, 61, 95, 86, 105, 94, 93}[min(m/40, 7)] }, "D7-t": day(11, 0, 2), "table": day(12, 2, 3)},
			map[string][]string{"D7-m": {"00:00 valid"}, "D7-t": {"00:00 valid"}, "table": {"00:00 valid"}}},
		{"a thermometer far colder than its neighbour in the same place, and still", []garden.Probe{airProbe("a", "table"), airProbe("b", "table")}, 5, 60,
			map[string]course{"a": until(30, func(int) float64 { return math.NaN() }, still(-2)), "b": day(9, 0, 2)},
			map[string][]string{"a": {"00:30 valid", "00:40 suspect"}, "b": {"00:00 valid"}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, verdicts(tt.probes, tt.every, tt.minutes, tt.values)); diff != "" {
				t.Errorf("verdicts (-want +got):\n%s", diff)
			}
		})
	}
}

func TestWhyAReadingIsRefused(t *testing.T) {
	for _, tt := range []struct {
		probe garden.Probe
		raw   int64
		unit  units.Unit
		want  string
	}{
		{airProbe("a", "t"), -273_150, units.Temperature, "zero kelvin, which stands for no reading"},
		{garden.Probe{ID: "a", Measures: garden.AirTemperature, Limits: &garden.Limits{Low: -400_000, High: 400_000}}, -273_150, units.Temperature, "zero kelvin, which stands for no reading"},
		{airProbe("a", "t"), 85_000, units.Temperature, "85 °C is not between -45 and 70 °C"},
		{garden.Probe{ID: "a", Measures: garden.PotTemperature}, 60_000, units.Temperature, "60 °C is not between -35 and 55 °C"},
		{garden.Probe{ID: "a", Measures: garden.PotTemperature, Limits: &garden.Limits{Low: 0, High: 70_000}}, 60_000, units.Temperature, ""},
		{garden.Probe{ID: "a", Measures: garden.PotMoisture}, 3_900, units.Voltage, "0.0039 V is not between 0.05 and 5.2 V"}, // shorted lead
		{garden.Probe{ID: "a", Measures: garden.PotMoisture}, 1_802_000, units.Voltage, ""},
		{garden.Probe{ID: "a", Measures: garden.PotMoisture}, 0xFFFF, units.Count, "65535, which a chip says that has nothing to say"},
		{garden.Probe{ID: "a", Measures: garden.PotMoisture}, 612, units.Count, ""},
		{garden.Probe{ID: "a", Measures: garden.AirHumidity}, 0, units.Humidity, "0 %RH is not between 2 and 105 %RH"},
		{garden.Probe{ID: "a", Measures: garden.Rain}, 200_001, units.Length, "200.001 mm is not between 0 and 200 mm"},
	} {
		d := NewDoor([]garden.Probe{tt.probe})
		out := d.Admit(sensors.Round{At: doorBegin, Readings: []sensors.Reading{{Probe: "a", Raw: tt.raw, Step: units.Whole(tt.unit)}}})
		got := ""
		if len(out.Faults) > 0 {
			got = out.Faults[0].Why
		}
		if got != tt.want || len(out.Faults)+len(out.Readings) != 1 {
			t.Errorf("%v: %q, want %q", tt.unit.Format(tt.raw), got, tt.want)
		}
	}
}

// One sensor at a time is replaced by what broken ones say, for spans anywhere in three winter days. None of it may come
// through as valid, but the first hours of a thermometer that merely stands still.
func TestOneBrokenSensorNeverPassesForTruth(t *testing.T) {
	probes := append(append(potProbes("D7"), potProbes("E1")...), airProbe("table", "table"), airProbe("wall", "wall"))
	truth := map[string]course{"D7-m": day(38, 1.5, 1), "D7-t": day(4, 1, 2), "E1-m": day(52, 1.5, 3), "E1-t": day(5, 1.5, 4), "table": day(5, 2.5, 5), "wall": day(4.5, 4, 6)}
	for _, broken := range []float64{85, -127, 0, 60} {
		for id, course := range truth {
			for _, from := range []int{600, 615, 1800} {
				if strings.HasSuffix(id, "-m") && math.Abs(course(from-5)-broken) < 11 {
					continue // no step to notice, and none to be deceived by
				}
				if !strings.HasSuffix(id, "-m") {
					if v := course(from - 5); broken == 0 && math.Abs(v) < 1.2 {
						continue
					}
				}
				values := map[string]func(int) float64{}
				d := NewDoor(probes)
				for k, v := range truth {
					values[k] = v
				}
				values[id] = until(from, course, until(from+900, still(broken), course))
				for m := 0; m < 4320; m += 5 {
					r := sensors.Round{At: doorBegin.Add(time.Duration(m) * time.Minute)}
					for _, p := range probes {
						r.Readings = append(r.Readings, valueOf(p, values[string(p.ID)](m)))
					}
					slices.SortFunc(r.Readings, func(a, b sensors.Reading) int { return strings.Compare(string(a.Probe), string(b.Probe)) })
					out := d.Admit(r)
					for _, r := range out.Readings {
						in := m >= from && m < from+900 && string(r.Probe) == id
						if in && r.Quality == sensors.Valid {
							t.Fatalf("%s = %v passed %d minutes into the span", id, broken, m-from)
						}
						if !in && r.Quality != sensors.Valid && (string(r.Probe) != id || m >= from+920) {
							t.Fatalf("%s was called %v at minute %d while %s said %v", r.Probe, r.Quality, m, id, broken)
						}
					}
				}
			}
		}
	}
}

func TestTheDoorForgetsWhenTimeGoesBack(t *testing.T) {
	d := NewDoor([]garden.Probe{airProbe("a", "t")})
	warm := sensors.Reading{Probe: "a", Raw: 20_000, Step: units.Whole(units.Temperature)}
	cold := sensors.Reading{Probe: "a", Raw: 2_000, Step: units.Whole(units.Temperature)}
	d.Admit(sensors.Round{At: doorBegin.Add(time.Hour), Readings: []sensors.Reading{warm}})
	if out := d.Admit(sensors.Round{At: doorBegin, Readings: []sensors.Reading{cold}}); out.Readings[0].Quality != sensors.Valid {
		t.Error("a tape from before is judged by what came after")
	}
}

// A board that starts in the middle of a fault has only its record to go by: what was doubted there is doubted still, until it stirs.
func TestADoubtOutlivesAStart(t *testing.T) {
	probes := append(potProbes("D7"), airProbe("table", "table"), airProbe("wall", "wall"))
	sound := map[string]course{"D7-t": day(3, 1, 4), "D7-m": still(48), "table": day(4, 3, 3), "wall": day(3, 4, 5)}
	for _, hours := range []int{1, 3, 30} { // of the fault before the start; the door is shown a day of record
		for _, off := range []int{5, 120} { // minutes without power
			d, shown := NewDoor(probes), []sensors.Round(nil)
			begin, start := 600, 600+60*hours
			for m := 0; m < start+off+300; m += 5 {
				if m >= start && m < start+off {
					continue
				}
				if m == start+off {
					d = NewDoor(probes)
					for _, r := range shown {
						if doorBegin.Add(time.Duration(start-1440) * time.Minute).Before(r.At) {
							d.Admit(r)
						}
					}
				}
				r := sensors.Round{At: doorBegin.Add(time.Duration(m) * time.Minute)}
				for _, p := range probes {
					v := sound[string(p.ID)](m)
					if p.Measures != garden.PotMoisture && m >= begin && m < start+off+240 {
						v = 0 // the 1-wire bus lies at ground
					}
					r.Readings = append(r.Readings, valueOf(p, v))
				}
				out := d.Admit(r)
				for _, got := range out.Readings {
					if grounded := m >= begin && m < start+off+240 && got.Probe != "D7-m"; grounded != (got.Quality == sensors.Suspect) && (grounded || m > start+off+240) {
						t.Fatalf("%d h, %d min off: minute %d of the run: %s is %v", hours, off, m, got.Probe, got.Quality)
					}
				}
				shown = append(shown, out)
			}
		}
	}
}

func TestTheDoorLeavesTheRoundItWasGivenAlone(t *testing.T) {
	d := NewDoor([]garden.Probe{airProbe("a", "t"), airProbe("b", "t")})
	given := sensors.Round{At: doorBegin, Readings: []sensors.Reading{{Probe: "a", Raw: 85_000, Step: units.Whole(units.Temperature)}, {Probe: "b", Raw: 1, Step: units.Whole(units.Temperature)}, {Probe: "zz", Raw: 5}},
		Faults: []sensors.Fault{{Probe: "aa", Kind: sensors.Silent}}}
	was := sensors.Round{At: given.At, Readings: slices.Clone(given.Readings), Faults: slices.Clone(given.Faults)}
	out := d.Admit(given)
	if diff := cmp.Diff(was, given); diff != "" {
		t.Error(diff)
	}
	if len(out.Readings) != 2 || len(out.Faults) != 2 || out.Faults[0].Probe != "a" || out.Readings[1].Probe != "zz" {
		t.Errorf("%+v", out)
	}
}

func doorBench() (*Door, []sensors.Round, int) {
	var probes []garden.Probe
	for i := range 20 {
		probes = append(probes, potProbes(fmt.Sprintf("P%02d", i))...)
	}
	probes = append(probes, airProbe("table", "table"), airProbe("wall", "wall"))
	var rs []sensors.Round
	for m := 0; m < 2880; m += 5 {
		r := sensors.Round{At: doorBegin.Add(time.Duration(m) * time.Minute)}
		for i, p := range probes {
			r.Readings = append(r.Readings, valueOf(p, day(20, 3, uint64(i))(m)))
		}
		slices.SortFunc(r.Readings, func(a, b sensors.Reading) int { return strings.Compare(string(a.Probe), string(b.Probe)) })
		rs = append(rs, r)
	}
	return NewDoor(probes), rs, len(probes)
}

// The door beside the least any door must do, finding each reading's probe in a map and converting it.
func BenchmarkDoor(b *testing.B) {
	d, rs, n := doorBench()
	index := map[sensors.ProbeID]int{}
	for i := range d.states {
		index[d.states[i].probe.ID] = i
	}
	b.Run("door", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			r := rs[i%len(rs)]
			d.Admit(r)
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*n), "ns/reading")
	})
	b.Run("map and convert", func(b *testing.B) {
		sum := int64(0)
		for i := 0; b.Loop(); i++ {
			for _, r := range rs[i%len(rs)].Readings {
				sum += int64(index[r.Probe]) + r.Whole()
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*n), "ns/reading")
	})
}
