package drivers

import (
	"cmp"
	"context"
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// The kernel's industrial I/O files (Linux, Documentation/ABI/testing/sysfs-bus-iio). The number in iio:deviceN is not
// stable: a chip is known by its name file, and among equals by its label or the device it hangs on.
func init() {
	add(Driver{
		Name: "iio",
		Doc:  "a chip the kernel reads as industrial I/O (BME280, DHT22, ADS1015/1115, HDC100x, BH1750 ...): air, light or a voltage.",
		Example: `[[probe]]
id = "D7-m"
measures = "pot-moisture"
pot = "D7"
[probe.iio]
name = "ads1015"
label = "front row"
channel = "voltage0"
`,
		Parse: parseIIO,
		Look:  lookIIO,
	})
}

const iioDir = "sys/bus/iio/devices"

type iioTable struct {
	Name    string   `toml:"name" help:"as the chip's name file says"`
	Label   string   `toml:"label" help:"tells equal chips apart, before any number"`
	Device  string   `toml:"device" help:"what the chip hangs on: a bus address like \"1-0048\""`
	Channel string   `toml:"channel" help:"temp, humidityrelative, pressure, illuminance, voltage0, voltage0-voltage1"`
	Scale   perCount `toml:"scale" help:"what a raw count is worth where the kernel does not say"`
}

var iioChannel = regexp.MustCompile(`^(temp|humidityrelative|pressure|illuminance|voltage)[0-9]{0,2}(-voltage[0-9]{1,2})?$`)

func parseIIO(p garden.Probe) (Wish, error) {
	var of iioTable
	if err := table.Decode(p.Source, &of); err != nil {
		return Wish{}, err
	}
	if of.Name == "" && of.Label == "" {
		return Wish{}, p.Source.Errorf("name", "write what the chip's name file says, like \"bme280\"")
	}
	if !iioChannel.MatchString(of.Channel) {
		return Wish{}, p.Source.Errorf("channel", "%q is no channel: write it like \"temp\", \"humidityrelative\" or \"voltage0\"", of.Channel)
	}
	if err := mustMeasure(p, "channel "+of.Channel, iioMeasures(of.Channel)...); err != nil {
		return Wish{}, err
	}
	if u := iioKindOf(of.Channel).unit; of.Scale.Den != 0 && of.Scale.Unit != u {
		return Wish{}, p.Source.Errorf("scale", "a count of %s is worth something in %s, not %s", of.Channel, u, of.Scale.Unit)
	}
	w := Wish{Probe: p.ID, Bus: "iio", Channel: of.Channel, Settings: strings.TrimSpace(of.Name + " " + of.Label), Apart: true, Open: openIIO, Of: of}
	w.Chip = "iio " + w.Settings
	if of.Device != "" {
		w.Chip = chipOf("iio", of.Device)
	}
	w.Check = func(env Env) error { return env.checkIIO(of) }
	return w, nil
}

func iioMeasures(channel string) []garden.Measures {
	switch {
	case strings.HasPrefix(channel, "temp"):
		return []garden.Measures{garden.AirTemperature, garden.PotTemperature}
	case strings.HasPrefix(channel, "humidity"):
		return []garden.Measures{garden.AirHumidity}
	case strings.HasPrefix(channel, "pressure"):
		return []garden.Measures{garden.AirPressure}
	case strings.HasPrefix(channel, "illuminance"):
		return []garden.Measures{garden.Light}
	}
	return []garden.Measures{garden.PotMoisture, garden.Battery, garden.Supply}
}

func openIIO(env Env, wishes []Wish) (Source, error) {
	of := wishes[0].Of.(iioTable)
	return &kernelChip{env: env, wishes: wishes, sub: "iio",
		find: func() (string, string, error) { return env.findIIO(of) },
		ask:  env.askIIO}, nil
}

func (env Env) findIIO(of iioTable) (dir, device string, err error) {
	var found []string
	dirs, _ := filepath.Glob(env.path(iioDir, "iio:device*"))
	for _, d := range dirs {
		name, _ := env.text(filepath.Join(d, "name"))
		label, _ := env.text(filepath.Join(d, "label"))
		dev := iioDevice(d)
		if of.Name != "" && name != of.Name || of.Label != "" && label != of.Label || of.Device != "" && dev != of.Device {
			continue
		}
		dir, device = d, dev
		found = append(found, cmp.Or(strings.TrimSpace(label+" "+dev), "one without a label"))
	}
	switch {
	case len(found) == 0:
		return "", "", silent("no chip %s", strings.Join(strings.Fields(of.Name+" "+of.Label+" "+of.Device), " "))
	case len(found) > 1:
		slices.Sort(found)
		return "", "", silent("several chips are called %s: say which with label or device: %s", of.Name, strings.Join(found, ", "))
	}
	return dir, device, nil
}

// iioDevice is what the chip hangs on: the folder above it where the kernel's link leads.
func iioDevice(dir string) string {
	target, err := filepath.EvalSymlinks(dir)
	if err != nil || target == dir {
		return ""
	}
	if parent := filepath.Base(filepath.Dir(target)); parent != "devices" {
		return parent
	}
	return ""
}

// checkIIO refuses a raw channel for which neither the kernel nor the garden file has a scale. A chip that is not there yet
// is looked at when it comes.
func (env Env) checkIIO(of iioTable) error {
	dir, _, err := env.findIIO(of)
	if err != nil || of.Scale.Den != 0 {
		return nil
	}
	if exists(filepath.Join(dir, "in_"+of.Channel+"_input")) || !exists(filepath.Join(dir, "in_"+of.Channel+"_raw")) {
		return nil
	}
	if _, ok := env.iioFactor(dir, of.Channel, "scale"); !ok {
		return fmt.Errorf("%s of %s has no scale: write what a count is worth, like scale = \"0.125 mV\"", of.Channel, of.Name)
	}
	return nil
}

func (env Env) askIIO(ctx context.Context, dir string, w Wish) answer {
	of := w.Of.(iioTable)
	kind := iioKindOf(of.Channel)
	text, err := env.attr(ctx, filepath.Join(dir, "in_"+of.Channel+"_input"))
	if err == nil {
		return kind.processed(text)
	}
	if !strings.HasPrefix(err.Error(), "no in_") {
		return answer{err: err}
	}
	text, err = env.attr(ctx, filepath.Join(dir, "in_"+of.Channel+"_raw"))
	if err != nil {
		return answer{err: err}
	}
	offset, _ := env.iioFactor(dir, of.Channel, "offset")
	if of.Scale.Den != 0 {
		return rawTimes(text, offset, of.Scale.Step)
	}
	scale, ok := env.iioFactor(dir, of.Channel, "scale")
	if !ok {
		return answer{err: silent("no scale for %s", of.Channel)}
	}
	return kind.raw(text, offset, scale)
}

// iioFactor finds a channel's own scale or offset, else the one its kind shares.
func (env Env) iioFactor(dir, channel, item string) (string, bool) {
	kind := strings.TrimRight(strings.SplitN(channel, "-", 2)[0], "0123456789")
	names := []string{"in_" + channel + "_" + item}
	if strings.Contains(channel, "-") {
		names = append(names, "in_"+kind+"-"+kind+"_"+item)
	}
	for _, name := range append(names, "in_"+kind+"_"+item) {
		if text, err := env.text(filepath.Join(dir, name)); err == nil && text != "" {
			return text, true
		}
	}
	return "0", false
}

func lookIIO(env Env) []Found {
	var found []Found
	dirs, _ := filepath.Glob(env.path(iioDir, "iio:device*"))
	for _, d := range dirs {
		name, _ := env.text(filepath.Join(d, "name"))
		label, _ := env.text(filepath.Join(d, "label"))
		device := iioDevice(d)
		files, _ := filepath.Glob(filepath.Join(d, "in_*"))
		for _, f := range files {
			channel, ok := strings.CutSuffix(strings.TrimPrefix(filepath.Base(f), "in_"), "_input")
			if !ok {
				channel, ok = strings.CutSuffix(strings.TrimPrefix(filepath.Base(f), "in_"), "_raw")
			}
			if !ok || !iioChannel.MatchString(channel) {
				continue
			}
			found = append(found, foundIIO(name, label, device, channel))
		}
	}
	return found
}

func foundIIO(name, label, device, channel string) Found {
	measures, where := airMeasure(channel), "place"
	if strings.HasPrefix(channel, "voltage") {
		measures, where = garden.PotMoisture.String(), "pot"
	}
	f := Found{Bus: "iio", Chip: "iio " + strings.TrimSpace(name+" "+label), Channel: channel, Says: strings.Join(strings.Fields(name+" "+label+" "+channel), " "),
		Block: "[[probe]]\nid = \"\"\nmeasures = \"" + measures + "\"\n" + where + " = \"\"\n[probe.iio]\nname = \"" + name + "\"\n"}
	if label != "" {
		f.Block += "label = \"" + label + "\"\n"
	}
	if device != "" {
		f.Chip = chipOf("iio", device)
		f.Block += "device = \"" + device + "\"\n"
	}
	f.Block += "channel = \"" + channel + "\"\n"
	return f
}
