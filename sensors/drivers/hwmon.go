package drivers

import (
	"context"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// The kernel's hardware monitoring files (Linux, Documentation/hwmon/sysfs-interface.rst). The number in hwmonN is not stable:
// a chip is known by its name file and where its device link leads.
func init() {
	add(Driver{
		Name: "hwmon",
		Doc:  "a chip the kernel reads as hardware monitoring (MCP9808 as jc42, SHT3x, SHT4x, TMP102 ...): temperature, humidity or voltage.",
		Example: `[[probe]]
id = "table-air"
measures = "air-temperature"
place = "table"
[probe.hwmon]
name = "jc42"
device = "1-0018"
channel = "temp1"
`,
		Parse: parseHwmon,
		Look:  lookHwmon,
	})
}

const hwmonDir = "sys/class/hwmon"

type hwmonTable struct {
	Name    string `toml:"name" help:"as the chip's name file says"`
	Device  string `toml:"device" help:"bus address or 1-wire id; needed where two chips have one name"`
	Channel string `toml:"channel" help:"temp1, humidity1, in0"`
}

var hwmonChannel = regexp.MustCompile(`^(temp|humidity|in)[0-9]{1,3}$`)

func parseHwmon(p garden.Probe) (Wish, error) {
	var of hwmonTable
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if of.Name == "" {
		return Wish{}, p.Source.Errorf("name", "write what the chip's name file says, like \"jc42\"")
	}
	if !hwmonChannel.MatchString(of.Channel) {
		return Wish{}, p.Source.Errorf("channel", "%q is no channel: write it like \"temp1\", \"humidity1\" or \"in0\"", of.Channel)
	}
	can := []garden.Measures{garden.PotTemperature, garden.AirTemperature}
	switch {
	case strings.HasPrefix(of.Channel, "humidity"):
		can = []garden.Measures{garden.AirHumidity}
	case strings.HasPrefix(of.Channel, "in"):
		can = []garden.Measures{garden.PotMoisture, garden.Battery, garden.Supply}
	}
	if err := mustMeasure(p, "channel "+of.Channel, can...); err != nil {
		return Wish{}, err
	}
	w := Wish{Probe: p.ID, Bus: "hwmon", Chip: "hwmon " + of.Name, Channel: of.Channel, Settings: of.Name, Apart: true, Open: openHwmon, Of: of}
	if of.Device != "" {
		w.Chip = chipOf("hwmon", of.Device)
	}
	if strings.HasPrefix(w.Chip, "w1 ") {
		w.Bus = w1Bus
	}
	return w, nil
}

func openHwmon(env Env, wishes []Wish) (Source, error) {
	of := wishes[0].Of.(hwmonTable)
	return &kernelChip{env: env, wishes: wishes, sub: "hwmon",
		find: func() (string, string, error) { return env.findHwmon(of) },
		ask:  env.askHwmon}, nil
}

func (env Env) findHwmon(of hwmonTable) (dir, device string, err error) {
	var found []string
	dirs, _ := filepath.Glob(env.path(hwmonDir, "hwmon*"))
	for _, d := range dirs {
		dev := deviceOf(filepath.Join(d, "device"))
		if name, err := env.text(filepath.Join(d, "name")); err != nil || name != of.Name || of.Device != "" && dev != of.Device {
			continue
		}
		dir, device = d, dev
		found = append(found, dev)
	}
	switch {
	case len(found) == 0:
		return "", "", silent("no chip %s", strings.TrimSpace(of.Name+" "+of.Device))
	case len(found) > 1:
		slices.Sort(found)
		return "", "", silent("several chips are called %s: say which with device = one of %s", of.Name, strings.Join(found, ", "))
	}
	return dir, device, nil
}

func (env Env) askHwmon(ctx context.Context, dir string, w Wish) answer {
	channel := w.Of.(hwmonTable).Channel
	if f, err := env.text(filepath.Join(dir, channel+"_fault")); err == nil && f == "1" {
		return answer{err: implausible("the chip says its probe is broken")}
	}
	text, err := env.attr(ctx, filepath.Join(dir, channel+"_input"))
	if err != nil {
		return answer{err: err}
	}
	return plainWhole(text, 0, hwmonStep(channel))
}

// hwmonStep: temperatures are always thousandths of a degree, whatever the first value looks like; humidity thousandths of
// a per cent; voltages millivolt.
func hwmonStep(channel string) units.Step {
	switch {
	case strings.HasPrefix(channel, "humidity"):
		return units.Step{Unit: units.Humidity, Num: 1, Den: 100}
	case strings.HasPrefix(channel, "in"):
		return units.Step{Unit: units.Voltage, Num: 1000, Den: 1}
	}
	return units.Whole(units.Temperature)
}

func lookHwmon(env Env) []Found {
	var found []Found
	dirs, _ := filepath.Glob(env.path(hwmonDir, "hwmon*"))
	for _, d := range dirs {
		name, _ := env.text(filepath.Join(d, "name"))
		device := deviceOf(filepath.Join(d, "device"))
		files, _ := filepath.Glob(filepath.Join(d, "*_input"))
		for _, f := range files {
			channel := strings.TrimSuffix(filepath.Base(f), "_input")
			if !hwmonChannel.MatchString(channel) || strings.HasPrefix(channel, "in") {
				continue
			}
			block := "[[probe]]\nid = \"\"\nmeasures = \"" + airMeasure(channel) + "\"\nplace = \"\"\n[probe.hwmon]\nname = \"" + name + "\"\n"
			if device != "" {
				block += "device = \"" + device + "\"\n"
			}
			f := Found{Bus: "hwmon", Chip: "hwmon " + name, Channel: channel, Says: name + " " + channel, Block: block + "channel = \"" + channel + "\"\n"}
			if device != "" {
				f.Chip = chipOf("hwmon", device)
			}
			found = append(found, f)
		}
	}
	return found
}

func airMeasure(channel string) string {
	switch {
	case strings.HasPrefix(channel, "humidity"):
		return garden.AirHumidity.String()
	case strings.HasPrefix(channel, "pressure"):
		return garden.AirPressure.String()
	case strings.HasPrefix(channel, "illuminance"):
		return garden.Light.String()
	}
	return garden.AirTemperature.String()
}
