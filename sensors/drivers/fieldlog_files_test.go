package drivers

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// Known failures of real installations, each by its smallest input, told as a short story in the form of
// testdata/drivers/FORMAT.md. Those that need the rhythm of rounds are in sensors/poll.
func TestFieldLog(t *testing.T) {
	for _, row := range []struct{ name, driver, story string }{
		{"W1_power_on", "w1", w1Says("50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000", "D7-t implausible: 85 °C, the value at power-on")},
		{"W1_power_on_bare_number", "w1", w1File("temperature", "85000", "D7-t implausible: 85 °C, the value at power-on")},
		{"W1_nearly_85_is_no_power_on", "w1", w1File("temperature", "54937", "D7-t 54.938 °C")},
		{"W2_starved", "w1", w1Says("ff 07 4b 46 7f ff 0c 10 a6 : crc=a6 YES\nff 07 4b 46 7f ff 0c 10 a6 t=127937", "D7-t implausible: 127.94 °C, which a probe without supply says")},
		{"W3_all_noughts", "w1", w1Says("00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0", "D7-t implausible: all noughts, as from a data wire at ground")},
		{"W3_genuine_nought", "w1", w1Says("00 00 4b 46 7f ff 10 10 69 : crc=69 YES\n00 00 4b 46 7f ff 10 10 69 t=0", "D7-t 0 °C")},
		{"W5_empty_file", "w1", w1Head + "-- file " + w1Path + "/temperature --\n-- poll --\nD7-t silent: the kernel read nothing\n"},
		{"W6_no_with_an_old_number", "w1", w1Says("00 00 00 00 00 00 00 00 00 : crc=00 NO\n00 00 00 00 00 00 00 00 00 t=0", "D7-t garbled: checksum")},
		{"W6_no_with_a_warm_number", "w1", w1Says("58 01 4b 46 7f ff 08 10 f9 : crc=f9 NO\n58 01 4b 46 7f ff 08 10 f9 t=21500", "D7-t garbled: checksum")},
		{"W8_phantoms", "w1", w1Head + "-- file " + w1Path + "/temperature --\n4000\n-- file sys/bus/w1/devices/00-200000000000/id --\n-- file sys/bus/w1/devices/00-a00000000000/id --\n" +
			"-- poll --\nD7-t 4 °C\nnotice w1: devices that do not exist answer on the bus: look at the pull-up, the length and the shape of the wiring\n-- poll --\nD7-t 4 °C\n"},
		{"T11_zero_kelvin", "hwmon", hwmonSays("-273150", "t implausible: -273.15 °C cannot be true here")},
		{"T13_frosty_start", "hwmon", hwmonSays("-5000", "t -5 °C") + "-- file sys/class/hwmon/hwmon0/temp1_input --\n21500\n-- poll --\nt 21.5 °C\n"},
		{"T15_two_errors_then_a_value", "iio", iioHead + "-- file " + iioPath + "/in_temp_input --\n21000\n-- errors " + iioPath + "/in_temp_input --\nEIO\nEIO\n-- poll --\nt 21 °C\n"},
		{"T15_an_error_is_no_value", "iio", iioHead + "-- file " + iioPath + "/in_temp_input --\n21000\n-- errors " + iioPath + "/in_temp_input --\nEIO\nEIO\nEIO\n-- poll --\nt silent: in_temp_input: input/output error\n"},
		{"T16_voltage_without_scale", "iio", strings.NewReplacer("air-temperature", "pot-moisture", `"temp"`, `"voltage0"`).Replace(iioHead) + "-- file " + iioPath + "/in_voltage0_raw --\n606\n-- refused --\nvoltage0 of chip has no scale\n"},
		{"Q10_retained_is_last_known", "mqtt-in", mqttHead("") + "-- message t retained --\n12.5\n-- poll --\n-- message t --\n12.5\n-- poll --\na 12.5 °C\n"},
		{"Q12_bare_nan", "mqtt-in", mqttHead("value = \"t\"") + "-- message t --\n{\"t\":nan,\"m\":41}\n-- poll --\na garbled: not JSON\n"},
		{"Q12_plain_nan", "mqtt-in", mqttHead("") + "-- message t --\nNaN\n-- poll --\na garbled: \"NaN\" is not a plain number\n"},
		{"Q13_null", "mqtt-in", mqttHead("value = \"t\"") + "-- message t --\n{\"t\":null}\n-- poll --\na garbled: field t is not a number\n"},
		{"Q13_missing", "mqtt-in", mqttHead("value = \"t\"") + "-- message t --\n{}\n-- poll --\na garbled: no field t\n"},
		{"Q13_twice", "mqtt-in", mqttHead("value = \"t\"") + "-- message t --\n{\"t\":23.5,\"t\":99}\n-- poll --\na garbled: key \"t\" given twice\n"},
		{"Q13_other_case", "mqtt-in", mqttHead("value = \"t\"") + "-- message t --\n{\"T\":1,\"t\":2}\n-- poll --\na 2 °C\n"},
		{"Q15_flood_without_times", "mqtt-in", mqttHead("") + "-- message t --\n9\n-- message t --\n8\n-- message t --\n7\n-- poll --\na 7 °C\n"},
	} {
		t.Run(row.name, func(t *testing.T) {
			d, _ := Named(row.driver)
			act(t, d, "", row.name, row.story)
		})
	}
	t.Run("W11_offset_leaves_raw_alone", offsetLeavesRaw)
	t.Run("W13_bulk_is_never_used", noBulk)
	t.Run("A2_changed_scale", changedScaleAtTheDoor)
	t.Run("A4_frozen_pot_passes_the_door", frozenAtTheDoor)
	t.Run("A7_reseated_probe", reseated)
	t.Run("Q4_handler_only_enqueues", onlyEnqueues)
}

const (
	w1Path = "sys/bus/w1/devices/28-0316a2794f21"
	w1Head = "-- garden.toml --\n[[probe]]\nid = \"D7-t\"\nmeasures = \"pot-temperature\"\npot = \"D7\"\n[probe.w1]\nid = \"28-0316a2794f21\"\n"

	iioPath = "sys/bus/iio/devices/iio:device0"
	iioHead = "-- garden.toml --\n[[probe]]\nid = \"t\"\nmeasures = \"air-temperature\"\nplace = \"wall\"\n[probe.iio]\nname = \"chip\"\nchannel = \"temp\"\n-- file " + iioPath + "/name --\nchip\n"
)

func w1File(file, text, want string) string {
	return w1Head + "-- file " + w1Path + "/" + file + " --\n" + text + "\n-- poll --\n" + want + "\n"
}

func w1Says(text, want string) string { return w1File("w1_slave", text, want) }

func hwmonSays(text, want string) string {
	return "-- garden.toml --\n[[probe]]\nid = \"t\"\nmeasures = \"air-temperature\"\nplace = \"wall\"\n[probe.hwmon]\nname = \"jc42\"\nchannel = \"temp1\"\n" +
		"-- file sys/class/hwmon/hwmon0/name --\njc42\n-- file sys/class/hwmon/hwmon0/temp1_input --\n" + text + "\n-- poll --\n" + want + "\n"
}

func mqttHead(more string) string {
	return "-- garden.toml --\n[[probe]]\nid = \"a\"\nmeasures = \"air-temperature\"\nplace = \"wall\"\n[probe.mqtt-in]\ntopic = \"t\"\n" + more + "\n"
}

// A clone reads 1.1 °C high in the ice bath. The keeper's offset is dated and applied by whoever draws conclusions; the raw
// count is stored as it came.
func offsetLeavesRaw(t *testing.T) {
	p := probesOf(t, strings.TrimPrefix(w1Head, "-- garden.toml --\n"))[0]
	p.Offset = []garden.Offset{{From: time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC), Add: -1100, Why: "ice bath"}}
	root := t.TempDir()
	dir := filepath.Join(root, w1Path)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "temperature"), []byte("1125\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	w, err := ParseProbe(p)
	if err != nil {
		t.Fatal(err)
	}
	s, err := w.Open(Env{Root: root}, []Wish{w})
	if err != nil {
		t.Fatal(err)
	}
	rs, fs := s.Poll(t.Context())
	out := NewDoor([]garden.Probe{p}).Admit(sensors.Round{Readings: rs, Faults: fs})
	if len(out.Readings) != 1 || out.Readings[0].Raw != 18 {
		t.Errorf("%+v", out)
	}
}

// The master's bulk trigger freezes results at trigger time: the file must be left as it was found.
func noBulk(t *testing.T) {
	root := t.TempDir()
	for _, f := range []string{"sys/bus/w1/devices/w1_bus_master1/therm_bulk_read", w1Path + "/temperature", w1Path + "/conv_time", w1Path + "/features"} {
		p := filepath.Join(root, f)
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte("1000\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	w, err := ParseProbe(probesOf(t, strings.TrimPrefix(w1Head, "-- garden.toml --\n"))[0])
	if err != nil {
		t.Fatal(err)
	}
	s, err := w.Open(Env{Root: root}, []Wish{w})
	if err != nil {
		t.Fatal(err)
	}
	before := snapshotTree(t, root)
	if rs, fs := s.Poll(t.Context()); len(rs) != 1 {
		t.Fatalf("%v %v", rs, fs)
	}
	if after := snapshotTree(t, root); after != before {
		t.Errorf("the driver wrote to the kernel:\n%s\nwas\n%s", after, before)
	}
}

func snapshotTree(t *testing.T, root string) string {
	var list []string
	err := filepath.Walk(root, func(p string, info os.FileInfo, err error) error {
		if err == nil && !info.IsDir() {
			b, _ := os.ReadFile(p)
			list = append(list, fmt.Sprintf("%s %q %v", p, b, info.ModTime()))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(list, "\n")
}

// An update of a library changed a probe's scale from about 600 to about 20: over 40 % of its span in one sample and no
// watering. It is doubted for a day, in which nothing calls the pot dry.
func changedScaleAtTheDoor(t *testing.T) {
	p := garden.Probe{ID: "m", Measures: garden.PotMoisture, Pot: "D7", Unit: units.Count,
		Marks: []garden.Mark{{Which: garden.DrainedFull, Raw: 900}, {Which: garden.DriestAllowed, Raw: 420, Share: 200}}}
	got := verdicts([]garden.Probe{p}, 10, 1500, map[string]course{"m": func(m int) float64 { return []float64{612, 610, 21, 20}[min(m/10, 2+m/10%2)] }})
	want := []string{"00:00 valid", "00:20 suspect", "24:20 valid"}
	if !slices.Equal(got["m"], want) {
		t.Errorf("verdicts %v, want %v", got["m"], want)
	}
}

// Temperature 2.1 to -1.2 to 3.1 while the moisture falls to 9 and climbs again: the ice is concluded elsewhere, and the door
// must let the series through to it.
func frozenAtTheDoor(t *testing.T) {
	temp, wet := []float64{2.1, 0.4, -0.3, -1.2, 0.6, 3.1}, []float64{38, 36, 12, 9, 21, 37}
	at := func(s []float64) course { return func(m int) float64 { return s[min(m/240, len(s)-1)] } }
	got := verdicts(potProbes("D7"), 240, 240*5, map[string]course{"D7-t": at(temp), "D7-m": at(wet)})
	for id, v := range got {
		if len(v) != 1 || v[0] != "00:00 valid" {
			t.Errorf("%s: %v", id, v)
		}
	}
}

// The probe is moved: 85 to 30 within one sample.
func reseated(t *testing.T) {
	got := verdicts(potProbes("D7"), 10, 1500, map[string]course{"D7-t": day(8, 1, 1),
		"D7-m": until(20, still(85), func(m int) float64 { return 30 + float64(m%7)/10 })})
	if want := []string{"00:00 valid", "00:20 suspect", "24:20 valid"}; !slices.Equal(got["D7-m"], want) {
		t.Errorf("verdicts %v, want %v", got["D7-m"], want)
	}
}

// A handler runs on the connection's own goroutine: while the source is busy, or nobody polls it at all, it still returns.
func onlyEnqueues(t *testing.T) {
	topics := &fakeTopics{}
	w, err := ParseProbe(probesOf(t, strings.TrimPrefix(mqttHead(""), "-- garden.toml --\n"))[0])
	if err != nil {
		t.Fatal(err)
	}
	s, err := w.Open(Env{Topics: topics}, []Wish{w})
	if err != nil {
		t.Fatal(err)
	}
	payload := []byte("1.5")
	for range 100_000 {
		topics.deliver(Arrival{Topic: "t", Payload: payload, At: time.Now()})
	}
	copy(payload, "9.9") // the client's buffer is its own again
	if n := len(s.(*mqttSource).waiting); n != waitingRoom {
		t.Errorf("%d messages kept", n)
	}
	if rs, _ := s.Poll(t.Context()); len(rs) != 1 || rs[0].Whole() != 1500 {
		t.Errorf("%+v", rs)
	}
	if s.(*mqttSource).lost != 0 || s.Close() != nil {
		t.Error("the count of lost messages was not taken")
	}
}
